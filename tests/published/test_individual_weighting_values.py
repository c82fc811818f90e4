"""An individual weighting of the training impulse.

Manzi V et al. (2009), Med Sci Sports Exerc 41(11):2090-2096: weight y = a exp(b x) fitted to the athlete's
own blood lactate against the fraction of heart-rate reserve, in an incremental test; pages from memory. No
published points with their constants were found; the examples are our own.
"""

import numpy as np
import pytest

from trainlog.load.individual_weighting import individual_weighting
from trainlog.load.trimp import MEN, WOMEN


@pytest.mark.parametrize("published", [MEN, WOMEN], ids=["men", "women"])
def test_points_on_banisters_curve_give_back_his_constants(published):
    """Banister (1991), constants from memory: his weighting is the same curve, fitted to others' lactate."""
    rates = np.array([100.0, 120.0, 140.0, 160.0, 180.0])
    lactate = published.a * np.exp(published.b * (rates - 50) / 140)
    own = individual_weighting(rates, lactate, 50.0, 190.0)
    assert (own.a, own.b) == pytest.approx((published.a, published.b))


def test_a_test_of_six_stages_has_our_constants():
    """Our regression value: a straight line through the logarithms by scipy 1.17.1's ``linregress``."""
    rates = np.array([112.0, 126.0, 140.0, 154.0, 168.0, 182.0])
    lactate = np.array([1.1, 1.2, 1.6, 2.4, 4.0, 7.5])
    own = individual_weighting(rates, lactate, 50.0, 190.0)
    assert (own.a, own.b) == pytest.approx((0.1559999581, 3.8900993499), abs=1e-9)
