from functools import cache

import numpy as np
import pytest

from accuracy.core.evaluation.simulate_athletes import (
    ACTIVITIES,
    SENSOR_TROUBLE,
    SimulatedAthlete,
    SimulatedSession,
    Trouble,
    simulate_athlete,
)
from accuracy.core.evaluation.simulated_work import follow_blocks
from trainlog.load.trimp import trimp

WRIST_TROUBLE = SENSOR_TROUBLE | {Trouble.CLOCK_OFFSET, Trouble.FIRMWARE_DRIFT}
STRAP_TROUBLE = frozenset({Trouble.STRAP_DROP_OUTS, Trouble.DRY_STRAP})
EVERY_TROUBLE = frozenset(Trouble)


@cache
def sessions(
    seed: int, activity: str, *troubles: Trouble, broad: bool = False, count: int = 12, paired: bool = True
) -> tuple[SimulatedSession, ...]:
    athlete = simulate_athlete(seed, broad=broad, switched_on=frozenset(troubles))
    return tuple(athlete.session(activity, index, paired=paired) for index in range(count))


def many(*troubles: Trouble, activity: str, paired: bool = True) -> list[SimulatedSession]:
    return [session for seed in range(8) for session in sessions(seed, activity, *troubles, paired=paired)]


def beside_none(trouble: Trouble, activity: str) -> list[tuple[SimulatedSession, SimulatedSession]]:
    return list(zip(many(trouble, activity=activity), many(activity=activity), strict=True))


def same(one: SimulatedSession, other: SimulatedSession, *names: str) -> bool:
    return all(
        np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True)
        for name in names or ("truth", "reference", "tested")
    )


def log_ratios(athlete: SimulatedAthlete, those: tuple[SimulatedSession, ...]) -> np.ndarray:
    body = (athlete.resting, athlete.maximum, athlete.weighting)
    return np.log([trimp(session.truth, *body) / trimp(session.tested, *body) for session in those])


def mean_share(athlete: SimulatedAthlete, session: SimulatedSession) -> float:
    return float((session.truth.mean() - athlete.resting) / (athlete.maximum - athlete.resting))


@pytest.mark.parametrize("activity", ACTIVITIES)
def test_the_same_arguments_give_the_same_session(activity):
    one = simulate_athlete(5, broad=True, switched_on=EVERY_TROUBLE).session(activity, 3)
    other = simulate_athlete(5, broad=True, switched_on=EVERY_TROUBLE).session(activity, 3)
    assert same(one, other)
    assert np.array_equal(one.cadence, other.cadence) if one.cadence is not None else other.cadence is None
    assert (one.day, one.session_rpe, one.content, one.troubles) == (
        other.day,
        other.session_rpe,
        other.content,
        other.troubles,
    )


def test_asking_for_other_sessions_in_between_changes_nothing():
    athlete = simulate_athlete(6, broad=True)
    before = athlete.session("lifting", 4)
    athlete.session("run", 4)
    athlete.session("lifting", 5, paired=False)
    assert same(before, athlete.session("lifting", 4))


def test_every_session_has_a_content_of_its_own():
    contents = [s.content for seed in range(3) for name in ACTIVITIES for s in sessions(seed, name)]
    assert len(set(contents)) == len(contents)


@pytest.mark.parametrize("activity", ACTIVITIES)
def test_with_nothing_switched_on_the_wrist_has_the_true_load(activity):
    for seed in range(8):
        athlete = simulate_athlete(seed, broad=False, switched_on=frozenset())
        assert np.abs(log_ratios(athlete, sessions(seed, activity))).max() < 0.03


@pytest.mark.parametrize("activity", ACTIVITIES)
def test_traces_are_whole_beats_of_one_length_within_what_a_heart_can_do(activity):
    for seed in range(8):
        athlete = simulate_athlete(seed, broad=True)
        for session in sessions(seed, activity, *sorted(EVERY_TROUBLE), broad=True):
            assert session.truth.shape == session.reference.shape == session.tested.shape
            assert 20 * 60 <= len(session.truth) <= 100 * 60
            assert np.isfinite(session.truth).all()
            assert 30 < session.truth.min() <= session.truth.max() < athlete.maximum + 6
            for written in (session.reference, session.tested):
                known = written[np.isfinite(written)]
                assert np.array_equal(known, np.round(known))
                assert known.min() > 30
                # Only a wrist that reads steps goes beyond the heart's maximum.
                if written is session.reference or Trouble.STEP_RATE_LOCK not in session.troubles:
                    assert known.max() < athlete.maximum + 6


def test_only_activities_with_steps_have_a_cadence():
    with_steps = {name for name in ACTIVITIES if sessions(0, name)[0].cadence is not None}
    assert with_steps == {"run", "interval-run", "mixed-intervals"}


def test_only_what_is_switched_on_can_touch_a_session():
    for trouble in Trouble:
        for activity in ACTIVITIES:
            assert all(session.troubles <= {trouble} for session in sessions(1, activity, trouble))


@pytest.mark.parametrize("trouble", Trouble)
def test_every_trouble_touches_some_session(trouble):
    assert any(trouble in session.troubles for session in many(trouble, activity="interval-run"))


@pytest.mark.parametrize("trouble", sorted(WRIST_TROUBLE))
def test_a_trouble_of_the_wrist_leaves_truth_and_strap_alone(trouble):
    assert all(same(one, none, "truth", "reference") for one, none in beside_none(trouble, "interval-run"))


@pytest.mark.parametrize("trouble", sorted(STRAP_TROUBLE))
def test_a_trouble_of_the_strap_leaves_truth_and_wrist_alone(trouble):
    assert all(same(one, none, "truth", "tested") for one, none in beside_none(trouble, "interval-run"))


def test_a_session_that_no_trouble_touched_is_as_if_none_were_switched_on():
    for trouble in (Trouble.LATE_LOCK_ON, Trouble.STEP_RATE_LOCK, Trouble.WRIST_DROP_OUTS, *STRAP_TROUBLE):
        pairs = [(one, none) for one, none in beside_none(trouble, "run") if not one.troubles]
        assert pairs
        assert all(same(one, none) for one, none in pairs)


def test_late_lock_on_touches_only_the_first_five_minutes_of_the_wrist():
    for one, none in beside_none(Trouble.LATE_LOCK_ON, "run"):
        assert np.array_equal(one.tested[300:], none.tested[300:])


def test_lag_brings_the_wrist_later():
    for one, _ in beside_none(Trouble.LAG, "interval-run"):
        lags = range(-10, 61)
        inner = one.truth[100:-100]
        fits = [np.corrcoef(inner, one.tested[100 + lag : len(one.truth) - 100 + lag])[0, 1] for lag in lags]
        assert lags[int(np.argmax(fits))] >= 3


def test_grip_cuts_the_peaks_and_never_adds_load():
    pairs = beside_none(Trouble.GRIP, "mixed-intervals")
    cuts = [np.quantile(none.tested, 0.95) - np.quantile(one.tested, 0.95) for one, none in pairs]
    assert np.mean(cuts) > 5
    assert all(one.tested.mean() <= none.tested.mean() for one, none in pairs)


def test_grip_does_not_show_in_how_rough_the_trace_is():
    pairs = beside_none(Trouble.GRIP, "lifting")
    hidden = [none.tested.mean() - one.tested.mean() for one, none in pairs]
    rough = [np.diff(one.tested, 2).std() for one, _ in pairs]
    # Within an athlete, whose mean size and mean roughness are drawn apart but only once.
    within = [
        np.corrcoef(hidden[first : first + 12], rough[first : first + 12])[0, 1]
        for first in range(0, len(pairs), 12)
    ]
    assert abs(np.mean(within)) < 0.25


def test_random_scale_reads_some_sessions_high_and_others_low():
    differences = [
        one.tested.mean() - none.tested.mean() for one, none in beside_none(Trouble.RANDOM_SCALE, "lifting")
    ]
    assert min(differences) < -1
    assert max(differences) > 1


def test_a_locked_wrist_reads_the_steps():
    locked = [s for s in many(Trouble.STEP_RATE_LOCK, activity="run") if s.troubles]
    assert locked
    for session in locked:
        assert session.cadence is not None
        at_steps = np.abs(session.tested - session.cadence) < 6
        assert at_steps.mean() > 0.03


def test_wrist_drop_outs_take_seconds_away_and_change_none():
    for one, none in beside_none(Trouble.WRIST_DROP_OUTS, "ride"):
        known = np.isfinite(one.tested)
        assert known.all() == (not one.troubles)
        assert np.array_equal(one.tested[known], none.tested[known])


def test_strap_drop_outs_take_seconds_of_hard_work_away():
    hard, all_of_it = [], []
    for one, none in beside_none(Trouble.STRAP_DROP_OUTS, "interval-run"):
        gone = np.isnan(one.reference)
        assert np.array_equal(one.reference[~gone], none.reference[~gone])
        if gone.any():
            hard.append(one.truth[gone].mean())
            all_of_it.append(one.truth.mean())
    assert np.mean(hard) > np.mean(all_of_it) + 5


def test_a_dry_strap_is_wrong_only_in_the_first_minutes():
    dry = [pair for pair in beside_none(Trouble.DRY_STRAP, "ride") if pair[0].troubles]
    early = [np.abs(one.reference[:60] - none.reference[:60]).mean() for one, none in dry]
    assert np.mean(early) > 5
    assert all(np.array_equal(one.reference[480:], none.reference[480:]) for one, none in dry)


def test_a_clock_offset_moves_the_wrist_by_whole_seconds():
    for one, none in beside_none(Trouble.CLOCK_OFFSET, "run"):
        late = one.clock_offset
        assert 1 <= abs(late) <= 60
        moved, still = (
            (one.tested[late:], none.tested[:-late]) if late > 0 else (one.tested, none.tested[-late:])
        )
        assert np.array_equal(moved[: len(still)], still)
        assert np.isnan(one.tested).sum() == abs(late)


def test_firmware_changes_the_error_from_its_day_on():
    for seed in range(8):
        athlete = simulate_athlete(seed, broad=False, switched_on=frozenset({Trouble.FIRMWARE_DRIFT}))
        assert athlete.firmware_day is not None
        changed = [s for s in sessions(seed, "run", Trouble.FIRMWARE_DRIFT) if s.troubles]
        assert changed
        assert min(session.day for session in changed) >= athlete.firmware_day
        shift = np.mean(log_ratios(athlete, tuple(changed)))
        assert abs(shift) > 0.015


def test_without_drift_there_is_no_firmware_day():
    assert simulate_athlete(0, broad=False).firmware_day is None


def test_chosen_strap_days_are_harder_than_the_others():
    pairs = many(Trouble.CHOSEN_STRAP_DAYS, activity="run")
    others = many(Trouble.CHOSEN_STRAP_DAYS, activity="run", paired=False)
    assert all(one.truth.mean() > other.truth.mean() for one, other in zip(pairs, others, strict=True))
    assert all(same(other, none) for other, none in zip(others, many(activity="run"), strict=True))


def test_a_wrist_only_session_is_the_same_but_for_the_strap():
    on = tuple(sorted(SENSOR_TROUBLE | STRAP_TROUBLE))
    for pair, alone in zip(many(*on, activity="run"), many(*on, activity="run", paired=False), strict=True):
        assert same(pair, alone, "truth", "tested")
        assert not alone.troubles & STRAP_TROUBLE


def test_sessions_come_about_weekly():
    days = [session.day for session in sessions(2, "ride")]
    assert all(5 <= gap <= 9 for gap in np.diff(days))


def test_ratings_are_whole_points_given_in_most_sessions_and_higher_for_harder_ones():
    rated, shares = [], []
    for seed in range(30):
        athlete = simulate_athlete(seed, broad=True, switched_on=frozenset())
        for session in sessions(seed, "run", broad=True):
            rated.append(np.nan if session.session_rpe is None else session.session_rpe)
            shares.append(mean_share(athlete, session))
    given = np.isfinite(rated)
    points = np.asarray(rated)[given]
    assert 0.6 < given.mean() < 0.8
    assert set(points) <= set(range(1, 11))
    assert np.corrcoef(points, np.asarray(shares)[given])[0, 1] > 0.5


@pytest.mark.parametrize("activity", ACTIVITIES)
def test_broad_athletes_spread_their_sessions_more(activity):
    def spread(broad: bool) -> float:
        athletes = [simulate_athlete(seed, broad=broad) for seed in range(10)]
        return float(
            np.mean(
                [
                    np.std([mean_share(a, s) for s in sessions(a.seed, activity, broad=broad)])
                    for a in athletes
                ]
            )
        )

    assert spread(True) > 1.5 * spread(False)


def test_the_error_of_mixed_work_differs_more_between_sessions_than_that_of_steady_work():
    def spread(activity: str) -> float:
        return float(
            np.median(
                [
                    log_ratios(
                        simulate_athlete(seed, broad=False), sessions(seed, activity, *sorted(SENSOR_TROUBLE))
                    ).std()
                    for seed in range(20)
                ]
            )
        )

    assert spread("mixed-intervals") > 1.5 * max(spread("run"), spread("ride"))


def test_athletes_differ_within_what_is_human():
    athletes = [simulate_athlete(seed, broad=False) for seed in range(100)]
    assert all(42 <= a.resting <= 70 and 165 <= a.maximum <= 205 for a in athletes)
    assert all(15 <= a.body.up <= 45 and 25 <= a.body.down <= 70 for a in athletes)
    assert np.std([a.resting for a in athletes]) > 4
    assert len({a.weighting for a in athletes}) == 2


def test_the_heart_follows_a_row_of_goals_as_second_by_second_steps_would():
    goals, lengths = np.array([0.8, 0.3, 0.9]), np.array([60, 90, 30])
    value, course = 0.2, []
    for goal in np.repeat(goals, lengths):
        value += (goal - value) * (1 - np.exp(-1 / (20.0 if goal > value else 40.0)))
        course.append(value)
    assert np.allclose(follow_blocks(goals, lengths, 0.2, 20.0, 40.0), course)
