"""Strap advice from the chance that a load lies near the truth."""

import numpy as np
import pytest

from accuracy.core.estimates.advise import Verdict, chance_near, serves_as_it_stands, verdict
from trainlog.load.draws import standard_normals

CHANCE = standard_normals("advice")


def test_a_load_that_is_always_right_is_always_near():
    assert chance_near(np.zeros(512)) == 1


def test_near_means_within_a_tenth_of_the_truth():
    assert chance_near(np.log(np.array([1 / 0.91, 1 / 1.09]))) == 1
    assert chance_near(np.log(np.array([1 / 0.89, 1 / 1.11]))) == 0


@pytest.mark.parametrize(
    ("spread", "expected"),
    [(0.03, Verdict.WRIST_WILL_DO), (0.10, Verdict.STRAP_ADVISED), (0.25, Verdict.STRAP_NEEDED)],
)
def test_the_wider_a_sensor_scatters_the_sooner_a_strap_goes_on(spread, expected):
    assert verdict(chance_near(spread * CHANCE), 8) == expected


def test_who_takes_near_more_strictly_wears_the_strap_more_often():
    assert verdict(chance_near(0.03 * CHANCE, near=0.02), 8) == Verdict.STRAP_NEEDED


def test_two_pairs_are_too_few_for_a_verdict():
    assert verdict(1.0, 2) == Verdict.TOO_FEW_PAIRS


def test_a_biased_sensor_does_not_serve_as_it_stands():
    assert serves_as_it_stands(0.03 * CHANCE, 8)
    assert not serves_as_it_stands(0.3 + 0.03 * CHANCE, 8)


def test_a_good_sensor_is_not_believed_on_two_pairs():
    assert not serves_as_it_stands(0.03 * CHANCE, 2)
