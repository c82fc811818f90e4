"""Putting back what was deleted: the log is what it was, or stays what it is."""

# mypy: disable-error-code="union-attr"

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.builders import MORNING, activity_of, athlete, csv_file, imported, part, sensor, strap
from trainlog import models as log
from trainlog import originals
from trainlog.services.check_in import check_in_of, delete_check_in, save_check_in
from trainlog.services.delete_workouts import delete_recording, delete_workout, delete_workouts
from trainlog.services.deletions import delete_for_good
from trainlog.services.edit_workout import (
    add_typed_workout,
    set_note,
    set_sensor,
    set_session_rpe,
    split_part,
)
from trainlog.services.import_files import READ_TASK, receive
from trainlog.services.lift_sets import add_set, delete_set
from trainlog.services.plan import clear_range, delete_session, set_range
from trainlog.services.recovery_check import claim_recovery
from trainlog.services.stays import delete_stay, save_stay
from trainlog.services.tags import set_tags
from trainlog.services.undo import CHANGED_MEANWHILE, undo
from trainlog.services.unknown_days import mark_unknown, unmark

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]

GIVEN = (
    log.Tag,
    log.Workout,
    log.Part,
    log.LiftSet,
    log.ClaimedRecovery,
    log.Recording,
    log.CheckIn,
    log.PlannedSession,
    log.WeekPlan,
    log.Stay,
    log.UnknownDay,
    log.Sensor,
    log.Activity,
)
VOLATILE = {"input_revision", "changed_at"}
"""What learning needs to know of a part, and nobody gave."""


def at(minutes):
    return MORNING + timedelta(minutes=minutes)


def state(owner):
    """Every row that the athlete gave, column by column, with the tags of each workout."""
    rows = {
        (model.__name__, row["id"]): {
            name: bytes(value) if isinstance(value, memoryview) else value
            for name, value in row.items()
            if name not in VOLATILE
        }
        for model in GIVEN
        for row in model.objects.of(owner).values()
    }
    tagged = set(log.Workout.tags.through.objects.values_list("workout_id", "tag_id"))
    return rows, tagged


def filled(owner):
    """Four sessions: two files of one, one with parts by hand and sets, a typed one, one of three parts."""
    wrist, belt = sensor(owner, source_key="csv:left"), strap(owner, source_key="csv:chest")
    one = imported(owner, csv_file(at(0), 30, device="left"), "a.csv")
    two = imported(owner, csv_file(at(5), 30, device="chest"), "b.csv")
    set_sensor(one, wrist)
    set_sensor(two, belt)
    lifted = imported(owner, csv_file(at(600), 60, device="left", sports=("lifting",)), "c.csv")
    split_part(lifted.workout.parts.get(), at(630))
    for line in lifted.workout.parts.all():
        add_set(line, {"exercise": "squat", "repetitions": 5, "kilograms": 80})
        add_set(line, {"exercise": "press", "repetitions": 3})
    typed = add_typed_workout(owner, at(1500), 45, activity_of(owner, "row"), 6.5, note="hard")
    marked = imported(
        owner, csv_file(at(3000), 60, device="left", sports=("running", "lifting", "rowing")), "d.csv"
    )
    imported(owner, csv_file(at(3000), 58, device="chest"), "e.csv")
    for line in marked.workout.parts.all():
        set_session_rpe(line, 5)
    set_tags(typed, ["gym", "rain"])
    set_tags(one.workout, ["gym"])
    claim_recovery(one.workout, "wrist", 24)
    set_note(lifted.workout, "new shoes")
    imported(owner, b"nothing of use", "f.csv")
    receive(owner, "g.csv", csv_file(at(9000), 20))
    save_check_in(owner, date(2026, 3, 2), {"resting_rate": 51.5, "note": "slept"})
    log.PlannedSession.objects.create(owner=owner, day=date(2026, 3, 5), activity=activity_of(owner, "run"))
    set_range(owner, date(2026, 3, 2), 100, 200, "easy")
    save_stay(
        owner,
        log.Stay(time_zone="Asia/Tokyo", first_day=date(2026, 3, 3), last_day=date(2026, 3, 4)),
    )
    mark_unknown(owner, date(2026, 3, 7), date(2026, 3, 7), "away")
    owner.refresh_from_db()
    return owner


WAYS = {
    "a workout": lambda owner, pick: delete_workout(pick(log.Workout)),
    "a recording": lambda owner, pick: delete_recording(pick(log.Recording)),
    "a set": lambda owner, pick: delete_set(pick(log.LiftSet)),
    "a morning": lambda owner, pick: delete_check_in(pick(log.CheckIn)),
    "a planned session": lambda owner, pick: delete_session(pick(log.PlannedSession)),
    "a stay": lambda owner, pick: delete_stay(pick(log.Stay)),
    "a planned load": lambda owner, pick: clear_range(owner, pick(log.WeekPlan).monday),
    "a mark": lambda owner, pick: unmark(owner, pick(log.UnknownDay).day),
}


@pytest.mark.parametrize("way", WAYS)
def test_deleting_removes_and_undoing_brings_everything_back(ana, way):
    before = state(filled(ana))
    deletion = WAYS[way](ana, lambda model: model.objects.of(ana).first())
    assert state(ana) != before
    undo(deletion)
    assert state(ana) == before
    assert not log.Deletion.objects.exists()


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=st.lists(st.tuples(st.sampled_from(sorted(WAYS)), st.integers(0, 9)), min_size=1, max_size=5))
def test_deletions_undone_in_reverse_leave_every_row_that_was_given(steps):
    from django.db import transaction

    with transaction.atomic():
        owner = filled(athlete(f"ana {log.Athlete.objects.count()}"))
        states, deletions = [state(owner)], []
        for way, number in steps:

            def pick(model, number=number):
                rows = list(model.objects.of(owner).order_by("pk"))
                return rows[number % len(rows)] if rows else None

            try:
                deletion = WAYS[way](owner, pick)
            except AttributeError:  # nothing of this kind is left
                continue
            deletions.append(deletion)
            states.append(state(owner))
        while deletions:
            assert state(owner) == states.pop()
            undo(deletions.pop())
        assert state(owner) == states.pop()
        transaction.set_rollback(True)


def test_every_recording_of_a_log_can_be_deleted_and_put_back(ana):
    filled(ana)
    before = state(ana)
    for recording in log.Recording.objects.of(ana):
        undo(delete_recording(recording))
        assert state(ana) == before, recording.file_name


def test_several_workouts_deleted_at_once_come_back_together(ana):
    before = state(filled(ana))
    undo(delete_workouts(ana, list(log.Workout.objects.of(ana))))
    assert state(ana) == before


def test_the_original_outlives_the_deletion_and_the_undoing(ana):
    recording = imported(ana, csv_file())
    undo(delete_workout(recording.workout))
    assert originals.read(ana.pk, recording.sha256) == csv_file()


def test_the_log_is_told_that_it_has_changed(ana):
    filled(ana)
    deletion = delete_workout(log.Workout.objects.of(ana).first())
    ana.refresh_from_db()
    revision = ana.log_revision
    undo(deletion)
    ana.refresh_from_db()
    assert ana.log_revision > revision


def test_a_part_comes_back_as_one_that_was_changed(ana):
    one = part(ana)
    undo(delete_workout(one.workout))
    assert log.Part.objects.get(pk=one.pk).input_revision > one.input_revision


def refused(deletion, owner):
    """What the refusal says; nothing has changed."""
    before = state(owner)
    with pytest.raises(ValidationError) as refusal:
        undo(deletion)
    assert state(owner) == before
    assert log.Deletion.objects.filter(pk=deletion.pk).exists()
    return " ".join(refusal.value.messages)


def test_a_file_that_was_added_again_stands_in_the_way(ana):
    deletion = delete_workout(imported(ana, csv_file(), "a.csv").workout)
    imported(ana, csv_file(), "b.csv")
    assert "b.csv was added again meanwhile. Delete that recording first" in refused(deletion, ana)


def test_a_session_typed_in_its_place_stands_in_the_way(ana):
    deletion = delete_workout(part(ana).workout)
    add_typed_workout(ana, at(10), 30, activity_of(ana, "row"), None)
    assert "There is a workout now from 06:40 on 2 March 2026" in refused(deletion, ana)


def test_a_workout_beside_it_that_was_there_before_does_not(ana):
    short = imported(ana, csv_file(at(0), 60, device="one"))
    long = imported(ana, csv_file(at(50), 60, device="two"))
    assert short.workout_id != long.workout_id
    before = state(ana)
    undo(delete_workout(short.workout))
    assert state(ana) == before


def test_an_activity_that_is_gone_stands_in_the_way(ana):
    session = log.PlannedSession.objects.create(
        owner=ana, day=date(2026, 3, 5), activity=activity_of(ana, "swim")
    )
    deletion = delete_session(session)
    activity_of(ana, "swim").delete()
    assert "The activity it belongs to is no longer in your log" in refused(deletion, ana)


def test_a_sensor_that_is_gone_stands_in_the_way_of_the_whole_workout(ana):
    filled(ana)
    deletion = delete_workouts(ana, list(log.Workout.objects.of(ana)))
    log.Sensor.objects.of(ana).delete()
    assert "The sensor it belongs to is no longer in your log" in refused(deletion, ana)


def test_a_set_waits_for_its_workout(ana):
    lifted = part(ana, activity="lifting")
    line = add_set(lifted, {"exercise": "squat", "repetitions": 5})
    deletion = delete_set(line)
    workout = delete_workout(lifted.workout)
    assert "put that back first" in refused(deletion, ana)
    undo(workout)
    undo(deletion)
    assert log.LiftSet.objects.get().part == lifted


def test_a_set_whose_place_was_taken_comes_last(ana):
    lifted = part(ana, activity="lifting")
    deletion = delete_set(add_set(lifted, {"exercise": "squat", "repetitions": 5}))
    add_set(lifted, {"exercise": "press", "repetitions": 5})
    undo(deletion)
    assert [line.exercise for line in lifted.lift_sets.order_by("place")] == ["press", "squat"]


def test_a_morning_noted_anew_stands_in_the_way(ana):
    deletion = delete_check_in(save_check_in(ana, date(2026, 3, 2), {"resting_rate": 50}))
    save_check_in(ana, date(2026, 3, 2), {"resting_rate": 55})
    assert "The morning of 2 March 2026 was noted anew" in refused(deletion, ana)
    assert check_in_of(ana, date(2026, 3, 2)).resting_rate == 55


def test_a_load_planned_anew_and_a_mark_set_anew_stand_in_the_way(ana):
    set_range(ana, MORNING.date(), 100, None, "")
    plan = clear_range(ana, MORNING.date())
    set_range(ana, MORNING.date(), 200, None, "")
    mark_unknown(ana, MORNING.date(), MORNING.date())
    mark = unmark(ana, MORNING.date())
    mark_unknown(ana, MORNING.date(), MORNING.date())
    assert "Another load is planned for the week of 2 March 2026" in refused(plan, ana)
    assert "2 March 2026 is marked as not known again" in refused(mark, ana)


def test_a_stay_that_another_one_overlaps_stands_back(ana):
    tokyo = log.Stay(time_zone="Asia/Tokyo", first_day=date(2026, 3, 1), last_day=date(2026, 3, 9))
    deletion = delete_stay(save_stay(ana, tokyo))
    save_stay(ana, log.Stay(time_zone="Europe/Paris", first_day=date(2026, 3, 5), last_day=date(2026, 3, 6)))
    assert "There is a stay in Europe/Paris" in refused(deletion, ana)


def test_a_workout_comes_back_on_the_local_day_of_a_stay_noted_meanwhile(ana):
    late = part(ana, MORNING.replace(hour=20))
    deletion = delete_workout(late.workout)
    save_stay(ana, log.Stay(time_zone="Asia/Tokyo", first_day=date(2026, 3, 1), last_day=date(2026, 3, 9)))
    undo(deletion)
    assert log.Workout.objects.get().day == date(2026, 3, 3)


def test_a_recording_joins_a_workout_that_was_changed_meanwhile_as_it_is_now(ana):
    kept = imported(ana, csv_file(at(0), 30, device="left"))
    deletion = delete_recording(imported(ana, csv_file(at(0), 40, device="chest")))
    set_note(log.Workout.objects.get(), "changed")
    done = undo(deletion)
    assert done.remark == CHANGED_MEANWHILE
    workout = log.Workout.objects.get()
    assert (workout.pk, workout.note, workout.end) == (kept.workout_id, "changed", at(40))
    assert workout.recordings.count() == 2


def test_a_recording_waits_for_the_workout_that_was_deleted_after_it(ana):
    imported(ana, csv_file(at(0), 30, device="left"))
    first = delete_recording(imported(ana, csv_file(at(0), 40, device="chest")))
    delete_workout(log.Workout.objects.get())
    assert "Put “run of 2 March 2026” back first, then this." in refused(first, ana)


def test_tags_are_found_again_by_their_name(ana):
    one, two = part(ana).workout, part(ana, at(300)).workout
    set_tags(one, ["Gym", "rain"])
    deletion = delete_workout(one)
    set_tags(two, ["snow"])  # clears the tags that no workout has
    set_tags(two, ["gym"])
    undo(deletion)
    assert {tag.name for tag in one.tags.all()} == {"gym", "rain"}
    assert log.Tag.objects.of(ana).count() == 2


def test_a_file_that_was_still_waiting_is_read_once_it_is_back(ana, monkeypatch):
    from django.test import TestCase

    woken = []
    monkeypatch.setattr("trainlog.services.undo.wake", lambda *task: woken.append(task))
    deletion = delete_recording(receive(ana, "a.csv", csv_file()))
    with TestCase.captureOnCommitCallbacks(execute=True):
        undo(deletion)
    assert woken == [(READ_TASK,)]


def test_what_is_put_back_twice_is_put_back_once(ana):
    deletion = delete_workout(part(ana).workout)
    undo(log.Deletion.objects.get())
    with pytest.raises(ValidationError, match="a moment ago"):
        undo(deletion)
    assert log.Workout.objects.count() == 1


def test_what_cannot_be_read_any_longer_is_said_so(ana):
    deletion = log.Deletion.objects.create(owner=ana, what="run", rows=b"damaged")
    assert "cannot be read any longer" in refused(deletion, ana)


def test_a_deleted_file_that_is_added_again_is_imported_anew_with_its_bytes(ana):
    deletion = delete_workout(imported(ana, csv_file()).workout)
    again = imported(ana, csv_file())
    delete_for_good(deletion)
    assert originals.read(ana.pk, again.sha256) == csv_file()
