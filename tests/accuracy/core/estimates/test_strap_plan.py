"""What one more pair is expected to bring, against models where all is known."""

from dataclasses import replace

import numpy as np
import pytest

from accuracy.core.estimates.strap_plan import (
    UsualWeeks,
    expected_half_width,
    half_width_when_worn,
    variance_left,
    weeks_of,
)
from accuracy.core.learning import priors
from accuracy.core.learning.profile import Cell, PairedLoads, learn
from trainlog.load.draws import DRAWS, standard_normals

RUN = Cell("wrist a", "", "steady", "run")
RIDE = Cell("wrist a", "", "steady", "ride")
LIFTING = Cell("wrist a", "", "resistance", "lifting")


def normals(name, scale=1.0):
    return scale * standard_normals(f"test/{name}")


def week(*loads, beside=0.0):
    from_wrist = np.sum(loads, axis=0)
    return UsualWeeks(np.array([from_wrist + beside]), np.array([from_wrist]))


def test_the_variance_left_is_that_of_a_simulation_of_what_the_pair_might_show():
    """Preposterior analysis by brute force: many worlds, grouped by what the pair shows in them."""
    rng = np.random.default_rng(8)
    worlds = 400_000
    family, run, ride = rng.normal(0, [0.08, 0.05, 0.06], (worlds, 3)).T
    load = 300 + 120 * (family + run + rng.normal(0, 0.06, worlds))
    load += 180 * (family + ride + rng.normal(0, 0.06, worlds))
    shown = family + run + rng.normal(0, 0.06, worlds)
    groups = load[np.argsort(shown)].reshape(400, -1)
    simulated = groups.var(axis=1).mean() / load.var()
    few = slice(0, 100_000)
    assert variance_left(week(load[few]), [shown[few]]) == pytest.approx(simulated, abs=0.01)
    assert simulated < 0.7


def test_draws_as_few_as_an_estimates_give_the_exact_answer_of_a_gaussian_model():
    family, cell = normals("family", 0.08), normals("cell", 0.05)
    loads = [100 * (1 + family + cell + normals(f"session {number}", 0.06)) for number in range(3)]
    further = [family + cell + normals(f"further {number}", 0.06) for number in range(8)]
    shared, chance = 0.08**2 + 0.05**2, 0.06**2
    exact = 1 - (3 * shared) ** 2 / ((9 * shared + 3 * chance) * (shared + chance))
    assert variance_left(week(*loads), further) == pytest.approx(exact, abs=0.05)


def test_what_is_expected_is_what_refits_bring_on_average():
    """Pairs drawn from the prediction itself, each learned in a refit of its own."""
    known = [PairedLoads(LIFTING, 0.2 + shift, f"lifting {shift}") for shift in (-0.1, 0.0, 0.1)]
    before = learn(known, priors.WRIST, seed=3, kind="wrist")

    def sum_of_week(posterior):
        return np.sum([100 * posterior.further_session(RUN, f"this week {n}") for n in range(4)], axis=0)

    refits = [
        learn([*known, PairedLoads(RUN, float(shown), "one more")], priors.WRIST, seed=3, kind="wrist")
        for shown in before.further_session(RUN, "what is shown")[::16]
    ]
    came = np.mean([np.var(sum_of_week(refit)) for refit in refits]) / np.var(sum_of_week(before))
    further = [before.further_session(RUN, f"further {number}") for number in range(8)]
    assert variance_left(week(sum_of_week(before)), further) == pytest.approx(came, abs=0.08)
    assert came < 0.8


def test_the_half_width_shrinks_by_the_root_of_the_variance_left():
    shared = normals("shared", 10)
    weeks = week(200 + shared)
    further = [shared / 100 + normals("chance", 0.1)]
    after = expected_half_width(weeks, further)
    assert weeks.half_width == pytest.approx(1.2816 * 10 / 200, rel=0.01)
    assert after == pytest.approx(weeks.half_width * np.sqrt(variance_left(weeks, further)))
    assert after == pytest.approx(weeks.half_width * np.sqrt(0.5), rel=0.1)


def test_an_activity_that_shares_nothing_with_the_week_brings_nothing():
    weeks = week(100 * (1 + normals("run", 0.1)))
    assert variance_left(weeks, [normals("lifting", 0.2)]) == 1.0


def test_correlations_that_draws_cannot_tell_from_chance_count_as_nothing():
    strays = [variance_left(week(100 + normals(f"week {n}")), [normals(f"stranger {n}")]) for n in range(200)]
    assert np.mean(np.array(strays) == 1.0) > 0.9


def test_a_week_without_doubt_has_nothing_to_gain():
    weeks = UsualWeeks(np.full((1, DRAWS), 100.0), np.full((1, DRAWS), 100.0))
    assert weeks.half_width == 0
    assert expected_half_width(weeks, [normals("run", 0.1)]) == 0


def test_a_sensor_that_scatters_but_has_nothing_left_to_learn_brings_nothing():
    loads = [100 * (1 + normals(f"chance {number}", 0.06)) for number in range(4)]
    assert variance_left(week(*loads), [normals("further chance", 0.06)]) == 1.0


def test_a_session_that_wears_the_strap_takes_its_own_doubt_out_of_its_week():
    first, second = (100 * (1 + normals(name, 0.1)) for name in ("first", "second"))
    weeks = week(first, second)
    worn = half_width_when_worn(weeks, [(0, first), (0, second)])
    assert worn == pytest.approx(weeks.half_width * np.sqrt(0.5), rel=0.06)


def test_a_session_that_is_never_done_cannot_wear_it():
    weeks = week(100 * (1 + normals("run", 0.1)))
    assert half_width_when_worn(weeks, []) == weeks.half_width


def test_a_pair_in_one_activity_narrows_another_of_its_family_but_less_than_its_own():
    posterior = learn([], priors.WRIST, seed=5, kind="wrist")
    weeks = week(100 * np.exp(posterior.further_session(RUN, "this week")))

    def left(cell):
        return variance_left(weeks, [posterior.further_session(cell, f"further {n}") for n in range(8)])

    assert left(RUN) < left(RIDE) < 1
    assert left(RIDE) < left(LIFTING)


def test_doubt_that_is_not_the_wrists_stays_whatever_a_pair_shows():
    shared = normals("shared", 10)
    further = [shared / 100]
    assert variance_left(week(100 + shared), further) == pytest.approx(0, abs=1e-9)
    left = variance_left(week(100 + shared, beside=normals("rated session", 10)), further)
    assert left == pytest.approx(0.5, abs=0.07)


def test_doubt_shared_by_several_sessions_of_a_week_counts_in_full_before_weeks_are_averaged():
    """Two sessions a week, four weeks: averaging the loads first would take chance for learned away."""
    shared = normals("shared", 5)
    chances = [[normals(f"{number} of week {place}", 10) for number in range(2)] for place in range(4)]
    loads = np.array([np.sum([100 + shared + chance for chance in of_week], axis=0) for of_week in chances])
    half_width = UsualWeeks(loads, loads).half_width
    assert half_width == pytest.approx(1.2816 * np.sqrt(4 * 5**2 + 2 * 10**2) / 200, rel=0.06)


def test_weeks_equally_well_known_make_a_usual_week_known_as_well_whatever_their_loads():
    one = 100 * (1 + normals("doubt", 0.1))
    loads = np.array([one, 3 * one, np.zeros(DRAWS)])
    assert UsualWeeks(loads, loads).half_width == pytest.approx(UsualWeeks(loads[:1], loads[:1]).half_width)


def test_parts_are_summed_into_weeks_counted_back_from_the_last_day():
    loads = {pk: np.full(DRAWS, float(load)) for pk, load in ((1, 1), (2, 10), (3, 100), (4, 1000))}
    weeks = weeks_of({1: 100, 2: 94, 3: 93, 4: 86}, loads, {1, 3}, last=100, weeks=2)
    assert weeks.loads[:, 0].tolist() == [11, 100]
    assert weeks.from_wrist[:, 0].tolist() == [1, 100]


def test_weeks_without_any_part_have_no_half_width():
    assert weeks_of({}, {}, set(), last=100, weeks=8).half_width == 0


def test_nothing_can_be_expected_of_a_sensor_without_a_session():
    assert variance_left(week(100 + normals("doubt")), []) == 1.0


def test_a_firmware_of_its_own_still_shares_what_the_sensor_shares():
    posterior = learn([], priors.WRIST, seed=5, kind="wrist")
    weeks = week(100 * np.exp(posterior.further_session(RUN, "this week")))
    newer = replace(RUN, firmware="2.0")
    left = variance_left(weeks, [posterior.further_session(newer, f"further {n}") for n in range(8)])
    assert left < 1
