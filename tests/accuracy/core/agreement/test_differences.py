import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from accuracy.core.agreement.differences import correlation_band, effective_size, epochs, paired_epochs, plain

steadily = settings(derandomize=True, deadline=None, max_examples=50)
signals = hnp.arrays(float, st.integers(1, 300), elements=st.one_of(st.just(np.nan), st.floats(40, 220)))


def test_an_epoch_is_the_mean_of_its_seconds():
    assert epochs(np.array([100.0, 102, 104, 120, 122, 124]), 3).tolist() == [102, 122]


def test_half_an_epochs_seconds_are_enough_and_fewer_are_not():
    values = np.array([100.0, 110, np.nan, np.nan, 90, np.nan, np.nan, np.nan])
    assert np.array_equal(epochs(values, 4), [105, np.nan], equal_nan=True)


def test_an_incomplete_last_epoch_counts_if_it_holds_half():
    assert epochs(np.array([100.0, 100, 100, 100, 90, 90]), 4).tolist() == [100, 90]
    assert np.isnan(epochs(np.array([100.0, 100, 100, 100, 90]), 4)[1])


def test_epochs_of_a_pair_rest_on_common_seconds():
    reference = np.array([100.0, 140, 100, 100])
    tested = np.array([100.0, np.nan, 100, 100])
    x, y = paired_epochs(reference, tested, 2)
    assert x.tolist() == y.tolist() == [100, 100]


def test_an_epoch_of_no_seconds_is_refused():
    with pytest.raises(ValueError, match="one second"):
        epochs(np.ones(3), 0)


@steadily
@given(signals, st.integers(1, 60))
def test_epochs_lie_within_the_signal(values, seconds):
    made = epochs(values, seconds)
    assert len(made) == -(-len(values) // seconds)
    if np.isfinite(made).any():
        assert np.nanmin(values) - 1e-9 <= np.nanmin(made) <= np.nanmax(made) <= np.nanmax(values) + 1e-9


@steadily
@given(signals, st.integers(1, 60), st.integers(1, 100))
def test_missing_seconds_at_the_end_only_add_missing_epochs(values, seconds, more):
    before = epochs(values, seconds)
    after = epochs(np.concatenate([values, np.full(more, np.nan)]), seconds)
    assert np.array_equal(after[: len(before)], before, equal_nan=True)
    assert np.isnan(after[len(before) :]).all()


@pytest.mark.parametrize(
    ("r", "words"),
    [
        (0.2, "not usable"),
        (0.85, "not ideal"),
        (0.9, "short of load tracking"),
        (0.95, "enough for load tracking"),
        (float("nan"), "not defined"),
    ],
)
def test_a_correlation_is_put_into_the_words_of_trade_practice(r, words):
    """Common practice, no source: edges belong to the band above."""
    assert correlation_band(r) == words


def test_independent_differences_count_in_full():
    differences = np.random.default_rng(0).normal(size=4000)
    assert effective_size(differences) == pytest.approx(4000, rel=0.15)


def test_differences_that_remember_count_for_fewer():
    """A first-order autoregression with coefficient 0.9 has (1 - 0.9) / (1 + 0.9) of its size."""
    rng, value, course = np.random.default_rng(1), 0.0, []
    for push in rng.normal(size=40_000):
        value = 0.9 * value + push
        course.append(value)
    assert effective_size(np.array(course)) == pytest.approx(40_000 * 0.1 / 1.9, rel=0.2)


def test_figures_become_what_json_knows():
    made = plain(
        {1: np.float64("nan"), "a": np.arange(2), "b": (np.int64(3), {"c": np.bool_(True)}), "d": None}
    )
    assert made == {"1": None, "a": [0, 1], "b": [3, {"c": True}], "d": None}
    assert type(made["b"][1]["c"]) is bool
