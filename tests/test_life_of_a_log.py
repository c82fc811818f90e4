"""The life of a log, in any order: after each step it holds what a few sets in memory say it holds."""

# mypy: disable-error-code="union-attr"

from __future__ import annotations

import io
from contextlib import suppress
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from django.conf import settings as site
from django.core.exceptions import ValidationError
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from accuracy.services.learn import learn
from tests.accuracy.session_builders import file_of
from tests.builders import MORNING, activity_of, athlete, equipped_athlete, imported
from trainlog import originals
from trainlog.models import Deletion, LoadEstimate, Measure, Part, Recording, Sensor, Workout
from trainlog.services import edit_workout, unknown_days
from trainlog.services.bulk_edit import Change, change_workouts
from trainlog.services.delete_workouts import delete_recording, delete_workout
from trainlog.services.deletions import delete_for_good, deletions_of
from trainlog.services.export_all import export_all
from trainlog.services.import_all import import_all
from trainlog.services.lines import lines_between, monday_of, total_of
from trainlog.services.tags import set_tags
from trainlog.services.undo import undo

SLOTS = {
    # Sessions far apart: what lies in one slot is one workout, and nothing of two slots is.
    name: MORNING + timedelta(hours=hours)
    for name, hours in {"morning": 0, "evening": 10, "next day": 24, "a week later": 170}.items()
}
FILES = {
    # Slot and content, by name. A second file of a slot covers the same time, or begins and ends later.
    f"{slot} {device}": (slot, file_of(start + late, minutes, bpm=bpm, device=device, sports=sports))
    for slot, start in SLOTS.items()
    for device, late, minutes, bpm, sports in (
        ("wrist", timedelta(0), 12, 130, ("lifting", "running")),
        ("strap", timedelta(0), 12, 140, ("lifting", "running")),
        ("other", timedelta(minutes=3), 12, 136, ("running",)),
    )
}
BAD = b"neither a time nor a heart rate"
MINUTES = 12

MOST_LEARNED = 2
"""Times that one life learns: it is what takes long."""

names = st.sampled_from(sorted(FILES))
slots = st.sampled_from(sorted(SLOTS))
some = st.integers(0, 11)


class LifeOfALog(RuleBasedStateMachine):
    """What is done to a log, beside what should be in it."""

    lives = 0

    def __init__(self) -> None:
        super().__init__()
        self.taken_back = transaction.atomic()
        self.taken_back.__enter__()
        type(self).lives += 1
        self.owner = equipped_athlete(f"ana {self.lives}", strap="Strap", wrist="Wrist")
        self.files: set[str] = set()
        self.typed: set[str] = set()
        self.refused = False
        self.ratings: dict[int, float | None] = {}
        self.deleted: dict[int, tuple[set[str], set[str]]] = {}
        self.unknown: set[date] = set()
        self.marks_taken_back = 0
        self.learned = 0

    def teardown(self) -> None:
        """Take the log along, and see that another one learns the same of it; then forget both."""
        try:
            if self.learned and self.lives % 4 == 0:
                self.another_log_learns_the_same()
        finally:
            transaction.set_rollback(True)
            self.taken_back.__exit__(None, None, None)

    # What is done

    @initialize(first=st.sets(names, min_size=2, max_size=4))
    def begin_with_some_files(self, first):
        for name in sorted(first):
            self.add_a_file(name)

    @rule(name=names)
    def add_a_file(self, name):
        _, content = FILES[name]
        recording = imported(self.owner, content, f"{name}.csv")
        assert recording.state == Recording.State.READ
        self.files.add(name)

    @rule()
    def add_a_file_that_nothing_can_be_read_from(self):
        assert imported(self.owner, BAD, "bad.csv").state == Recording.State.REFUSED
        self.refused = True

    @rule(slot=slots)
    def type_a_session(self, slot):
        run = activity_of(self.owner, "run")
        if slot in self.filled:
            with pytest.raises(ValidationError, match="There is a workout already"):
                edit_workout.add_typed_workout(self.owner, SLOTS[slot], MINUTES, run, 5)
            return
        workout = edit_workout.add_typed_workout(self.owner, SLOTS[slot], MINUTES, run, 5)
        self.typed.add(slot)
        self.ratings[workout.parts.get().pk] = 5

    @rule(place=some)
    def say_which_sensor(self, place):
        other, _ = Sensor.objects.get_or_create(owner=self.owner, name="Other")
        recording = self.one_of(Recording.objects.of(self.owner).filter(state="read"), place)
        if recording and "other" in recording.file_name:
            edit_workout.set_sensor(recording, other)

    @rule(place=some, slug=st.sampled_from(["run", "ride", "lifting"]))
    def say_what_it_was(self, place, slug):
        if part := self.one_of(self.parts, place):
            edit_workout.set_activity(part, activity_of(self.owner, slug))

    @rule(place=some, rating=st.sampled_from([None, 3.0, 7.5]))
    def rate(self, place, rating):
        if part := self.one_of(self.parts, place):
            edit_workout.set_session_rpe(part, rating)
            self.ratings[part.pk] = rating

    @rule(place=some, share=st.sampled_from([0.02, 0.4, 0.7]))
    def split(self, place, share):
        if part := self.one_of(self.parts, place):
            try:
                edit_workout.split_part(part, part.start + share * (part.end - part.start))
            except ValidationError:
                least = edit_workout.SHORTEST_PART
                assert (
                    share * (part.end - part.start) < least or (1 - share) * (part.end - part.start) < least
                )

    @rule(place=some)
    def join(self, place):
        if part := self.one_of(self.parts, place):
            last = not part.workout.parts.filter(start__gte=part.end).exists()
            try:
                edit_workout.join_with_next(part)
            except ValidationError:
                assert last

    @rule(place=some, seconds=st.sampled_from([-90, 30, 4000]))
    def move_a_boundary(self, place, seconds):
        if part := self.one_of(self.parts, place):
            with suppress(ValidationError):
                edit_workout.move_boundary(part, part.end + timedelta(seconds=seconds))

    @rule(place=some, tag=st.sampled_from(["hills", "gym"]))
    def tag(self, place, tag):
        if workout := self.one_of(Workout.objects.of(self.owner), place):
            set_tags(workout, [tag])

    @rule()
    def change_several(self):
        workouts = list(Workout.objects.of(self.owner).order_by("start")[:2])
        if workouts:
            change_workouts(self.owner, workouts, Change(add_tags=("several",)))

    @rule(slot=slots)
    def delete_a_workout(self, slot):
        if slot in self.filled:
            gone = {name for name in self.files if FILES[name][0] == slot}
            deletion = delete_workout(self.workout_of(slot))
            self.deleted[deletion.pk] = (gone, self.typed & {slot})
            self.files -= gone
            self.typed -= {slot}

    @rule(place=some)
    def delete_a_file(self, place):
        if self.files:
            name = sorted(self.files)[place % len(self.files)]
            deletion = delete_recording(Recording.objects.of(self.owner).get(file_name=f"{name}.csv"))
            self.deleted[deletion.pk] = ({name}, set())
            self.files.remove(name)

    @rule(place=some)
    def put_back(self, place):
        deletion = self.one_of(Deletion.objects.of(self.owner), place)
        if deletion is None or deletion.pk not in self.deleted:
            return
        key = deletion.pk
        files, typed = self.deleted[key]
        touched = {FILES[name][0] for name in files} | typed
        later = any(
            touched & ({FILES[name][0] for name in others} | also)
            for pk, (others, also) in self.deleted.items()
            if pk > key
        )
        try:
            undo(deletion)
        except ValidationError:
            assert touched & self.filled or later, "nothing stood in the way"
            return
        del self.deleted[key]
        self.files |= files
        self.typed |= typed

    @rule(place=some)
    def delete_for_good(self, place):
        deletion = self.one_of(Deletion.objects.of(self.owner), place)
        if deletion is not None and deletion.pk in self.deleted:
            del self.deleted[deletion.pk]
            delete_for_good(deletion)

    @rule(ahead=st.integers(0, 8))
    def mark_a_day_as_not_known(self, ahead):
        day = MORNING.date() + timedelta(days=ahead)
        try:
            unknown_days.mark_unknown(self.owner, day, day)
        except ValidationError:
            return
        self.unknown.add(day)

    @rule(ahead=st.integers(0, 8))
    def take_a_mark_back(self, ahead):
        day = MORNING.date() + timedelta(days=ahead)
        deletion = unknown_days.unmark(self.owner, day)
        assert (deletion is not None) == (day in self.unknown)
        self.marks_taken_back += deletion is not None
        self.unknown.discard(day)

    @precondition(lambda self: self.files and self.learned < MOST_LEARNED)
    @rule()
    def learn_of_it(self):
        self.learned += 1
        learned(self.owner)
        parts = Part.objects.of(self.owner)
        shown = LoadEstimate.objects.of(self.owner).filter(source=self.owner.current_source)
        told = sorted(shown.values_list("part", "measure", "input_revision"))
        assert told == sorted(
            (part.pk, measure, part.input_revision) for part in parts for measure in Measure.values
        )
        for monday in {monday_of(workout.day) for workout in Workout.objects.of(self.owner)}:
            lines = lines_between(self.owner, monday, monday + timedelta(days=6))
            drawn = [
                row.load for row in shown.filter(measure="trimp", part__in=[line.part for line in lines])
            ]
            assert total_of(lines).median == pytest.approx(np.median(np.sum(drawn, axis=0)), rel=1e-5)

    # What holds

    @invariant()
    def the_files_are_those_that_were_added_and_not_deleted(self):
        there = Recording.objects.of(self.owner).values_list("file_name", "state")
        expected = {(f"{name}.csv", "read") for name in self.files}
        assert set(there) == expected | ({("bad.csv", "refused")} if self.refused else set())
        assert len(there) == len(set(there))

    @invariant()
    def a_slot_with_anything_in_it_is_one_workout(self):
        found = sorted(Workout.objects.of(self.owner).values_list("start", flat=True))
        assert len(found) == len(self.filled)
        for slot in self.filled:
            files = {f"{name}.csv" for name in self.files if FILES[name][0] == slot}
            recordings = self.workout_of(slot).recordings.values_list("file_name", flat=True)
            assert set(recordings) == files

    @invariant()
    def parts_fill_their_workout_and_nowhere_overlap(self):
        for workout in Workout.objects.of(self.owner):
            parts = list(workout.parts.order_by("start"))
            assert (parts[0].start, parts[-1].end) == (workout.start, workout.end)
            assert all(part.start < part.end for part in parts)
            assert all(one.end == other.start for one, other in pairwise(parts))

    @invariant()
    def a_rating_stays_with_its_part(self):
        there = dict(Part.objects.of(self.owner).values_list("pk", "session_rpe"))
        assert {pk: there[pk] for pk in self.ratings if pk in there} == {
            pk: rating for pk, rating in self.ratings.items() if pk in there
        }

    @invariant()
    def every_original_that_is_named_is_there(self):
        for recording in Recording.objects.of(self.owner):
            assert originals.read(self.owner.pk, recording.sha256)

    @invariant()
    def what_can_be_put_back_is_listed(self):
        listed = {row.pk for row in deletions_of(self.owner)}
        assert listed >= set(self.deleted)
        assert len(listed) == len(self.deleted) + self.marks_taken_back

    # Helpers

    @property
    def filled(self) -> set[str]:
        """Slots that have a workout."""
        return {FILES[name][0] for name in self.files} | self.typed

    @property
    def parts(self):
        return Part.objects.of(self.owner).select_related("owner", "workout")

    def one_of(self, rows, place):
        found = list(rows.order_by("pk"))
        return found[place % len(found)] if found else None

    def workout_of(self, slot) -> Workout:
        begin = SLOTS[slot]
        return Workout.objects.of(self.owner).get(start__gte=begin, start__lt=begin + timedelta(hours=1))

    def another_log_learns_the_same(self) -> None:
        other = athlete(f"ben {self.lives}", seed=2)
        with export_all(self.owner) as whole:
            import_all(other, io.BytesIO(whole.read()))
        assert drawn(other) == drawn(self.owner)


def drawn(owner):
    """Draws of every part in every measure, learned up to date."""
    learned(owner)
    rows = LoadEstimate.objects.of(owner).filter(source=owner.current_source).select_related("part")
    return {(row.part.start, row.measure): bytes(row.all_draws) for row in rows}


def learned(owner) -> None:
    while not learn(owner):
        pass
    owner.refresh_from_db()


@pytest.mark.django_db
def test_a_log_holds_what_was_done_to_it(monkeypatch, tmp_path):
    monkeypatch.setattr(site, "DATA_FOLDER", tmp_path)
    run_state_machine_as_test(
        LifeOfALog,
        settings=settings(
            max_examples=50,
            stateful_step_count=20,
            derandomize=True,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
