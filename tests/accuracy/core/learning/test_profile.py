"""Learning the log ratio of loads by partial pooling."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special

from accuracy.core.learning import fit_store, priors, profile
from accuracy.core.learning.profile import Cell, PairedLoads, learn
from trainlog.load.draws import DRAWS

LIFTING = Cell("wrist a", "", "resistance", "lifting")
RUN = Cell("wrist a", "", "steady", "run")
RIDE = Cell("wrist a", "", "steady", "ride")


def pairs(cell, log_ratio, count, *, spread=0.0):
    chance = special.ndtri((np.arange(count) + 0.5) / count)
    return [
        PairedLoads(cell, float(log_ratio + spread * z), f"{cell.instrument}/{cell.activity}/{number}")
        for number, z in enumerate(chance)
    ]


def learned(*groups):
    return learn([pair for group in groups for pair in group], priors.WRIST, seed=5, kind="wrist")


def width(draws):
    low, high = np.quantile(draws, [0.1, 0.9])
    return high - low


def test_without_any_pair_the_prior_speaks():
    nothing = learned()
    assert np.median(nothing.expected(LIFTING)) == pytest.approx(0.20, abs=0.03)
    assert nothing.counts == {}


def test_a_further_session_without_any_pair_is_anyones_guess():
    assert width(learned().further_session(LIFTING, "x")) > 0.4


def test_pairs_draw_the_expected_ratio_to_their_own():
    assert np.median(learned(pairs(LIFTING, 0.40, 12, spread=0.05)).expected(LIFTING)) == pytest.approx(
        0.40, abs=0.04
    )


def test_more_pairs_narrow_a_further_session_down_to_the_spread_between_sessions():
    widths = [
        width(learned(pairs(LIFTING, 0.3, count, spread=0.1)).further_session(LIFTING, "x"))
        for count in (0, 2, 8, 60)
    ]
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] == pytest.approx(2 * 1.2816 * 0.1, rel=0.25)


def test_pairs_in_one_activity_inform_another_of_the_family_but_less():
    runs = pairs(RUN, 0.30, 10, spread=0.02)
    before, after = learned(), learned(runs)
    moved_ride = np.median(after.expected(RIDE)) - np.median(before.expected(RIDE))
    moved_run = np.median(after.expected(RUN)) - np.median(before.expected(RUN))
    assert 0.02 < moved_ride < moved_run


def test_another_sensor_learns_a_little_from_the_first():
    other = Cell("wrist b", "", "resistance", "lifting")
    after = learned(pairs(LIFTING, 0.50, 10, spread=0.05))
    assert width(after.further_session(LIFTING, "x")) < width(after.further_session(other, "x"))
    assert np.median(after.expected(other)) > np.median(learned().expected(other)) + 0.02


def test_new_firmware_reopens_the_question_without_forgetting():
    updated = Cell("wrist a", "2.0", "resistance", "lifting")
    after = learned(pairs(LIFTING, 0.40, 10, spread=0.05))
    assert width(after.expected(updated)) > width(after.expected(LIFTING))
    assert np.median(after.expected(updated)) == pytest.approx(0.40, abs=0.12)


def test_one_gross_outlier_moves_the_ratio_less_than_the_mean_of_the_pairs():
    clean = pairs(LIFTING, 0.30, 7, spread=0.03)
    outlier = PairedLoads(LIFTING, -0.9, "outlier")
    moved = np.median(learned(clean).expected(LIFTING)) - np.median(
        learned(clean, [outlier]).expected(LIFTING)
    )
    mean_moves_by = np.mean([p.log_ratio for p in clean]) - np.mean([p.log_ratio for p in [*clean, outlier]])
    assert abs(moved) < 0.5 * mean_moves_by


@settings(derandomize=True, deadline=None, max_examples=15)
@given(order=st.permutations(range(9)))
def test_the_order_of_pairs_changes_nothing(order):
    given_pairs = pairs(LIFTING, 0.3, 5, spread=0.1) + pairs(RUN, 0.05, 4, spread=0.05)
    shuffled = [given_pairs[index] for index in order]
    assert np.array_equal(
        learned(given_pairs).further_session(LIFTING, "x"), learned(shuffled).further_session(LIFTING, "x")
    )


def test_a_pair_of_another_activity_leaves_the_draws_nearly_as_they_were():
    before = learned(pairs(LIFTING, 0.3, 6, spread=0.1)).further_session(LIFTING, "x")
    after = learned(pairs(LIFTING, 0.3, 6, spread=0.1), pairs(RUN, 0.05, 1)).further_session(LIFTING, "x")
    assert np.max(np.abs(after - before)) < 0.15
    assert np.corrcoef(before, after)[0, 1] > 0.98


def test_sessions_share_what_is_shared_and_nothing_else():
    after = learned(pairs(LIFTING, 0.3, 6, spread=0.1))
    first, second = (after.further_session(LIFTING, name) for name in ("first", "second"))
    own = [draws - after.expected(LIFTING) for draws in (first, second)]
    assert abs(np.corrcoef(*own)[0, 1]) < 4 / np.sqrt(DRAWS)
    assert np.corrcoef(first, second)[0, 1] > 0.02


def test_pairs_are_counted_by_activity_and_by_family_over_all_firmware():
    updated = Cell("wrist a", "2.0", "steady", "run")
    after = learned(pairs(RUN, 0.1, 3), pairs(RIDE, 0.1, 2), pairs(updated, 0.1, 1))
    assert after.pairs_of(RUN) == 4
    assert after.pairs_of(RUN, level="family") == 6


def test_a_posterior_comes_back_from_its_bytes():
    kept = learned(pairs(LIFTING, 0.3, 4, spread=0.1), pairs(RUN, 0.05, 2))
    back = fit_store.posterior_from_bytes(
        fit_store.posterior_as_bytes(kept), priors.WRIST, seed=5, kind="wrist"
    )
    assert back.counts == kept.counts
    for cell in (LIFTING, RUN, Cell("unseen", "", "mixed", "circuit")):
        assert back.further_session(cell, "x") == pytest.approx(kept.further_session(cell, "x"), abs=1e-6)


def test_intervals_cover_as_often_as_they_say_when_the_world_is_as_assumed():
    """Simulated from the model itself at eight pairs a cell: 80% intervals, 200 further sessions."""
    rng = np.random.default_rng(11)
    covered, families = 0, ("steady", "resistance", "mixed", "intervals")
    for world in range(25):
        cells = [Cell("w", "", family, f"{family} {n}") for family in families for n in range(2)]
        family_effect = {family: 0.08 * rng.standard_normal() for family in families}
        truth = {
            cell: priors.WRIST.centre[cell.family] + family_effect[cell.family] + 0.15 * rng.standard_normal()
            for cell in cells
        }
        scale = {
            family: priors.WRIST.residual[family] * np.exp(0.4 * rng.standard_normal()) for family in families
        }

        def session(cell, truth=truth, scale=scale):
            return truth[cell] + scale[cell.family] * rng.standard_t(profile.DEGREES_OF_FREEDOM)

        evidence = [
            PairedLoads(cell, session(cell), f"{world}/{cell.activity}/{n}")
            for cell in cells
            for n in range(8)
        ]
        fitted = learn(evidence, priors.WRIST, seed=world, kind="wrist")
        for cell in cells:
            low, high = np.quantile(fitted.further_session(cell, f"{world}/{cell.activity}/new"), [0.1, 0.9])
            covered += low <= session(cell) <= high
    # 200 trials at 0.8: three standard errors are 0.085.
    assert covered / 200 == pytest.approx(0.8, abs=0.085)
