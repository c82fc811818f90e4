import hashlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainlog.load import draws

seeds = st.text(max_size=40)
bounded = settings(derandomize=True, deadline=None, max_examples=50)


@bounded
@given(seeds)
def test_there_is_one_draw_in_each_slice_whatever_the_seed(seed):
    slices = np.floor(draws.stratified_uniforms(seed) * draws.DRAWS).astype(int)
    assert sorted(slices) == list(range(draws.DRAWS))


def test_the_same_seed_gives_the_same_draws_on_every_machine():
    """Our own regression value: should it change, every stored estimate changes with it."""
    first = draws.stratified_uniforms("athlete/1/resting")
    assert np.array_equal(first, draws.stratified_uniforms("athlete/1/resting"))
    order = np.floor(first * draws.DRAWS).astype("<u2")
    assert hashlib.sha256(order.tobytes()).hexdigest()[:16] == "2d5fd87a1a8b330c"


@bounded
@given(seeds, seeds)
def test_draws_of_different_seeds_are_nearly_uncorrelated(one, other):
    if one != other:
        r = np.corrcoef(draws.standard_normals(one), draws.standard_normals(other))[0, 1]
        # The standard deviation of r is 1/sqrt(511) = 0.044.
        assert abs(r) < 0.25


def test_residuals_of_different_sessions_are_independent():
    sessions = [draws.standard_normals(draws.session_seed(f"{i:064x}", "ratio")) for i in range(60)]
    between = np.asarray(np.corrcoef(sessions))[np.triu_indices(60, 1)]
    assert np.mean(between) == pytest.approx(0, abs=0.005)
    assert np.std(between) == pytest.approx(1 / np.sqrt(draws.DRAWS - 1), rel=0.1)


def test_two_purposes_of_one_session_have_draws_of_their_own():
    assert draws.session_seed("aa", "ratio") != draws.session_seed("aa", "gap")
    assert draws.athlete_seed(7, "resting") != draws.athlete_seed(7, "maximum")
    assert draws.athlete_seed(7, "resting") != draws.athlete_seed(8, "resting")


def test_standard_normals_have_mean_zero_and_deviation_one():
    normals = draws.standard_normals("any")
    assert normals.mean() == pytest.approx(0, abs=1e-12)
    assert normals.std() == pytest.approx(1, abs=0.01)


def test_the_interval_holds_eighty_per_cent_of_the_draws():
    low, median, high = draws.interval(np.arange(512.0))
    assert (low, median, high) == pytest.approx((51.1, 255.5, 459.9))


def test_the_interval_takes_another_coverage():
    low, _, high = draws.interval(np.arange(101.0), coverage=0.5)
    assert (low, high) == pytest.approx((25, 75))


def test_the_half_width_is_relative_to_the_median():
    assert draws.relative_half_width(np.linspace(0, 100, 101)) == pytest.approx(0.8)


def test_the_half_width_of_no_load_is_without_bound():
    assert draws.relative_half_width(np.zeros(512)) == float("inf")


def test_ties_count_half():
    assert draws.probability_greater(np.array([1.0, 2.0, 3.0]), np.array([1.0, 1.0, 4.0])) == pytest.approx(
        0.5
    )


@bounded
@given(seeds, seeds)
def test_greater_and_smaller_add_up_to_certainty(one, other):
    a, b = draws.standard_normals(one), draws.standard_normals(other)
    assert draws.probability_greater(a, b) + draws.probability_greater(b, a) == pytest.approx(1)


@pytest.mark.parametrize(
    ("probability", "shown"), [(0, 5), (0.01, 5), (0.5, 50), (0.62, 60), (0.63, 65), (1, 95)]
)
def test_probabilities_are_shown_in_steps_of_five_and_never_as_certain(probability, shown):
    assert draws.rounded_probability(probability) == shown


@bounded
@given(seeds)
def test_stored_draws_come_back_in_order_to_seven_digits(seed):
    values = 100 + 10 * draws.standard_normals(seed)
    assert draws.unpack(draws.pack(values)) == pytest.approx(values, rel=1e-6)
    assert len(draws.pack(values)) == 4 * draws.DRAWS
