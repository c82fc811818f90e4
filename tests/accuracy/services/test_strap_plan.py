"""The strap plan of a learned log, and what planned strap sessions brought."""

from datetime import timedelta

import numpy as np
import pytest

from accuracy.models import Fit, PlannedStrap, StrapGain, StrapPlan
from accuracy.services.learn import learn
from accuracy.services.strap_plan import current_plan, earlier_gains, planned_straps
from tests import builders
from tests.accuracy.session_builders import FIRST_DAY, session
from trainlog.load.draws import relative_half_width
from trainlog.models import LoadEstimate, Part, Workout
from trainlog.services.delete_workouts import delete_workout
from trainlog.services.edit_workout import set_session_rpe
from trainlog.services.undo import undo

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana():
    return builders.equipped_athlete("ana", strap="Strap", wrist="Wrist", other="Other")


def learned(athlete):
    while not learn(athlete):
        pass
    athlete.refresh_from_db()
    return current_plan(athlete)


def cells(plan):
    return [(row.sensor.name, row.activity.slug) for row in planned_straps(plan)]


def half_width_of_the_only_week(athlete):
    rows = LoadEstimate.objects.of(athlete).filter(measure="trimp", source=athlete.current_source)
    return relative_half_width(np.sum([row.load_by_sensor_doubt for row in rows], axis=0))


def test_a_learned_log_has_a_plan_of_what_was_worn_without_a_strap(ana):
    for day in range(3):
        session(ana, day, wrist=130)
    session(ana, 3, "running", wrist=140)
    session(ana, 4, "cycling", strap=140)
    plan = learned(ana)
    assert set(cells(plan)) == {("Wrist", "lifting"), ("Wrist", "run")}
    assert plan.last_day == (FIRST_DAY + timedelta(days=4)).date()
    assert (plan.parts, plan.measured_parts) == (5, 1)


def test_the_margin_is_the_weeks_own_sensor_doubt(ana):
    session(ana, 0, wrist=130)
    session(ana, 2, "running", wrist=140)
    session(ana, 3, strap=140)
    plan = learned(ana)
    assert plan.half_width == pytest.approx(half_width_of_the_only_week(ana), rel=1e-6)


def test_one_more_pair_of_what_is_worn_most_and_never_paired_is_expected_to_narrow_the_week(ana):
    for day in range(5):
        session(ana, day, wrist=130)
    session(ana, 5, "running", wrist=140, minutes=12)
    plan = learned(ana)
    first, *rest = planned_straps(plan)
    assert (first.activity.slug, first.rank) == ("lifting", 1)
    assert first.expected_half_width < 0.95 * plan.half_width
    assert [row.rank for row in rest] == [2]
    assert rest[0].expected_half_width >= first.expected_half_width


def test_times_a_week_are_counted_over_the_weeks_there_are(ana):
    for day in range(0, 14, 2):
        session(ana, day, wrist=130)
    session(ana, 13, "running", wrist=130)
    rows = {row.activity.slug: row.sessions_a_week for row in planned_straps(learned(ana))}
    assert rows == pytest.approx({"lifting": 3.5, "run": 0.5})


def test_each_tested_sensor_is_ranked_by_itself(ana):
    session(ana, 0, wrist=130)
    session(ana, 1, other=130)
    assert set(cells(learned(ana))) == {("Wrist", "lifting"), ("Other", "lifting")}


def test_what_was_worn_longer_ago_than_eight_weeks_is_not_planned(ana):
    session(ana, 0, "running", wrist=130)
    session(ana, 57, wrist=130)
    plan = learned(ana)
    assert cells(plan) == [("Wrist", "lifting")]
    assert plan.weeks == 8


def test_a_log_that_a_strap_measured_throughout_has_a_plan_without_rows(ana):
    session(ana, 0, strap=140, wrist=130)
    plan = learned(ana)
    assert cells(plan) == []
    assert plan.parts == plan.measured_parts == 1


def test_an_empty_log_and_one_without_physiology_have_no_plan(ana):
    assert learned(ana) is None
    ben = builders.athlete("ben")
    builders.imported(ben, builders.csv_file())
    assert learned(ben) is None


def test_a_new_session_is_planned_for_though_nothing_new_was_learned(ana):
    session(ana, 0, wrist=130)
    learned(ana)
    session(ana, 1, "running", wrist=130)
    plan = learned(ana)
    assert set(cells(plan)) == {("Wrist", "lifting"), ("Wrist", "run")}
    assert StrapPlan.objects.of(ana).count() == 1


def test_the_plan_goes_with_its_fit(ana):
    session(ana, 0, wrist=130)
    learned(ana)
    session(ana, 1, wrist=130, strap=140)
    learned(ana)
    assert Fit.objects.of(ana).count() == StrapPlan.objects.of(ana).count() == 1
    assert set(PlannedStrap.objects.of(ana).values_list("plan__fit", flat=True)) == {
        Fit.objects.of(ana).get().pk
    }


def test_learning_again_leaves_the_plan_as_it_was(ana):
    for day in range(3):
        session(ana, day, wrist=130)
    before = [row.expected_half_width for row in planned_straps(learned(ana))]
    set_session_rpe(Part.objects.of(ana).order_by("start")[0], 5)
    set_session_rpe(Part.objects.of(ana).order_by("start")[0], None)
    assert [row.expected_half_width for row in planned_straps(learned(ana))] == before


def test_a_new_pair_of_a_planned_activity_leaves_what_was_expected_and_what_came(ana):
    for day in range(4):
        session(ana, day, wrist=130)
    plan = learned(ana)
    was, (row,) = plan.half_width, planned_straps(plan)
    session(ana, 4, wrist=130, strap=142)
    learned(ana)
    (gain,) = earlier_gains(ana)
    assert (gain.sensor.name, gain.activity.slug, gain.pairs) == ("Wrist", "lifting", 1)
    assert gain.day == (FIRST_DAY + timedelta(days=4)).date()
    assert gain.expected_from == pytest.approx(was)
    assert gain.expected_to == pytest.approx(row.expected_half_width)
    assert gain.came_to < was


def test_what_came_is_of_the_same_sessions_without_the_new_one(ana):
    for day in range(4):
        session(ana, day, wrist=130)
    learned(ana)
    session(ana, 4, wrist=130, strap=142)
    learned(ana)
    rows = LoadEstimate.objects.of(ana).filter(measure="trimp").exclude(basis="measured")
    same = relative_half_width(np.sum([row.load_by_sensor_doubt for row in rows], axis=0))
    assert earlier_gains(ana)[0].came_to == pytest.approx(same, rel=1e-6)


def test_a_strap_file_added_to_a_planned_session_leaves_that_session_out_before_and_after(ana):
    for day in range(4):
        session(ana, day, wrist=130)
    was = learned(ana).half_width
    session(ana, 3, strap=142)
    learned(ana)
    (gain,) = earlier_gains(ana)
    assert gain.day == (FIRST_DAY + timedelta(days=3)).date()
    assert gain.expected_from != pytest.approx(was, rel=1e-3)


def test_a_pair_of_an_activity_that_was_not_planned_leaves_no_gain(ana):
    session(ana, 0, wrist=130)
    learned(ana)
    session(ana, 1, "running", wrist=130, strap=140)
    learned(ana)
    assert earlier_gains(ana) == []


def test_a_change_without_a_new_pair_leaves_no_gain(ana):
    session(ana, 0, wrist=130)
    session(ana, 1, wrist=130, strap=142)
    learned(ana)
    set_session_rpe(Part.objects.of(ana).order_by("start")[1], 7)
    learned(ana)
    assert not StrapGain.objects.exists()


def test_a_pair_that_was_deleted_and_put_back_is_no_new_one(ana):
    for day in range(3):
        session(ana, day, wrist=130)
    session(ana, 4, wrist=130, strap=142)
    learned(ana)
    deletion = delete_workout(Workout.objects.of(ana).order_by("start").last())
    learned(ana)
    undo(deletion)
    learned(ana)
    assert earlier_gains(ana) == []


def test_pairs_learned_at_once_are_said_to_be(ana):
    session(ana, 0, wrist=130)
    session(ana, 0.5, "running", wrist=130)
    learned(ana)
    session(ana, 1, wrist=130, strap=142)
    session(ana, 1.5, "running", wrist=130, strap=136)
    learned(ana)
    gains = {(gain.activity.slug, gain.pairs) for gain in earlier_gains(ana)}
    assert gains == {("lifting", 2), ("run", 2)}


def test_planning_asks_the_database_a_fixed_number_of_times(ana, django_assert_max_num_queries):
    from accuracy.services.knowledge import knowledge_of, physiology_by_day
    from accuracy.services.strap_plan import plan_of

    for day in range(6):
        session(ana, day, ("lifting", "running", "cycling")[day % 3], wrist=130)
    learned(ana)
    fit = Fit.objects.select_related("owner").get(owner=ana)
    knowledge, physiology_on = knowledge_of(fit), physiology_by_day(ana)
    with django_assert_max_num_queries(4) as queries:
        plan_of(fit, knowledge, physiology_on)
    assert "trace_blob" not in " ".join(query["sql"].split(" FROM ")[0] for query in queries.captured_queries)
