"""Zone loads and intensity bands.

Published: the definitions. Edwards S (1993), The Heart Rate Monitor Book, from memory; Lucia A et al. (2003),
Med Sci Sports Exerc 35(5):872-878, zones as secondary sources repeat them, weights from memory; bands of the
American College of Sports Medicine as secondary sources print them. Every load is our own worked example.
"""

import numpy as np
import pytest

from trainlog.load.intensity import BANDS_OF_MAXIMUM, BANDS_OF_RESERVE
from trainlog.load.trimp import RATES, histogram, histogram_load
from trainlog.load.zones import summated_zones_per_minute, three_zones_per_minute


def minutes_at(*minutes_and_rates):
    return histogram(np.concatenate([np.full(60 * minutes, rate) for minutes, rate in minutes_and_rates]))


def test_ten_minutes_in_each_of_edwards_zones_have_our_worked_load():
    """Edwards (1993), weights 1 to 5 from memory; the example is ours."""
    seconds = minutes_at((10, 110.0), (10, 130.0), (10, 150.0), (10, 170.0), (10, 190.0))
    assert histogram_load(seconds, summated_zones_per_minute(RATES, 200.0)) == pytest.approx(150)


def test_minutes_below_half_of_the_maximum_score_nothing():
    """Edwards (1993), from memory."""
    assert histogram_load(minutes_at((60, 99.0)), summated_zones_per_minute(RATES, 200.0)) == 0


def test_thirty_twenty_and_ten_minutes_in_lucias_zones_have_our_worked_load():
    """Lucia et al. (2003), weights 1 to 3 from memory; the example is ours."""
    seconds = minutes_at((30, 120.0), (20, 150.0), (10, 175.0))
    assert histogram_load(seconds, three_zones_per_minute(RATES, 140.0, 165.0)) == pytest.approx(100)


def test_the_bands_of_reserve_are_the_published_ones():
    """ACSM (tenth edition) and Garber et al. (2011): <30, 30-39, 40-59, 60-89, 90 and more, as secondary
    sources print them; one prints 60-84 and 85-100 instead of the last two."""
    assert [low for _, low, _ in BANDS_OF_RESERVE[1:]] == [30, 40, 60, 90]


def test_the_bands_of_maximum_are_the_published_ones():
    """ACSM as secondary sources print it: <57, 57-63, 64-76, 77-95, and from 96 on (some print 95)."""
    assert [low for _, low, _ in BANDS_OF_MAXIMUM[1:]] == [57, 64, 77, 96]
