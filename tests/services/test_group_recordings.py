# mypy: disable-error-code="union-attr"

from datetime import UTC, datetime, timedelta
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.builders import MORNING, activity_of, athlete, csv_file, imported, part
from trainlog.models import LiftSet, Part, Recording, Workout
from trainlog.services.edit_workout import set_activity, set_note, set_session_rpe, split_part
from trainlog.services.group_recordings import Span, grouped
from trainlog.services.lift_sets import add_set
from trainlog.services.recovery_check import claim_recovery, claims_of
from trainlog.services.tags import set_tags

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
minutes_of_day = st.tuples(st.integers(0, 300), st.integers(1, 120))
bounded = settings(derandomize=True, deadline=None, max_examples=200)


def span(begins, ends, key=""):
    return Span(NOON + timedelta(minutes=begins), NOON + timedelta(minutes=ends), key or f"{begins}-{ends}")


def keys(groups):
    return [[member.key for member in group] for group in groups]


def as_sets(groups):
    return {frozenset(group) for group in keys(groups)}


@bounded
@given(st.lists(minutes_of_day, max_size=8), st.randoms(use_true_random=False))
def test_the_groups_are_the_same_for_every_order(places, random):
    spans = [span(begin, begin + length, f"file {i}") for i, (begin, length) in enumerate(places)]
    shuffled = random.sample(spans, len(spans))
    assert keys(grouped(shuffled)) == keys(grouped(spans))


@bounded
@given(st.lists(minutes_of_day, max_size=8))
def test_every_recording_is_in_exactly_one_group(places):
    spans = [span(begin, begin + length, f"file {i}") for i, (begin, length) in enumerate(places)]
    assert sorted(key for group in keys(grouped(spans)) for key in group) == sorted(s.key for s in spans)


@bounded
@given(minutes_of_day, minutes_of_day)
def test_two_recordings_are_one_workout_just_when_they_share_half_of_the_shorter(one, other):
    a, b = span(one[0], sum(one), "a"), span(other[0], sum(other), "b")
    shared = min(sum(one), sum(other)) - max(one[0], other[0])
    together = shared > 0 and shared >= min(one[1], other[1]) / 2
    assert len(grouped([a, b])) == (1 if together else 2)


def test_back_to_back_recordings_are_two_workouts():
    assert as_sets(grouped([span(0, 60), span(60, 120)])) == {frozenset({"0-60"}), frozenset({"60-120"})}


def test_a_short_recording_inside_a_long_one_belongs_to_it():
    assert len(grouped([span(0, 120), span(50, 55)])) == 1


def test_a_bridging_recording_makes_one_workout_of_two():
    assert len(grouped([span(0, 60), span(60, 120), span(0, 120)])) == 1


def test_a_recording_joins_the_group_with_which_it_shares_most():
    groups = grouped([span(0, 60), span(40, 160), span(45, 85)])
    assert as_sets(groups) == {frozenset({"0-60"}), frozenset({"40-160", "45-85"})}


def test_nothing_makes_no_groups():
    assert grouped([]) == []


def shape(owner):
    """What the log shows of its workouts, without keys of the database."""
    return sorted(
        (
            workout.start,
            workout.end,
            workout.day,
            tuple(workout.recordings.values_list("sha256", flat=True)),
            tuple(workout.parts.values_list("start", "end", "activity__slug")),
        )
        for workout in Workout.objects.of(owner)
    )


def at(minutes):
    return MORNING + timedelta(minutes=minutes)


FILES = (
    csv_file(at(0), 20, device="wrist", sports=("running",)),
    csv_file(at(20), 20, device="wrist", sports=("lifting", "hiit")),
    csv_file(at(1), 38, device="strap", sports=()),
    csv_file(at(200), 10, device="wrist", sports=("cycling",)),
)


@pytest.mark.django_db
def test_the_same_files_in_any_order_make_the_same_workouts_and_parts():
    shapes = []
    for i, order in enumerate(permutations(FILES)):
        owner = athlete(f"ana {i}")
        for content in order:
            imported(owner, content)
        shapes.append(shape(owner))
    assert all(one == shapes[0] for one in shapes)
    assert [len(recordings) for *_, recordings, _ in shapes[0]] == [3, 1]


@pytest.mark.django_db
def test_a_bridging_file_merges_two_workouts_and_leaves_no_empty_one():
    owner = athlete()
    imported(owner, FILES[0])
    imported(owner, FILES[1])
    assert Workout.objects.of(owner).count() == 2
    imported(owner, FILES[2])
    assert Workout.objects.of(owner).count() == 1
    assert Part.objects.of(owner).count() == 2


@pytest.mark.django_db
def test_the_parts_of_a_workout_meet_and_reach_from_its_start_to_its_end():
    owner = athlete()
    imported(owner, csv_file(at(0), 10, device="strap", sports=()))
    workout = imported(owner, csv_file(at(1), 12, device="wrist", sports=("lifting", "hiit"))).workout
    first, second = Part.objects.of(owner)
    assert (first.start, first.end, second.end) == (workout.start, second.start, workout.end)
    assert (workout.start, workout.end) == (at(0), at(13))


@pytest.mark.django_db
def test_a_file_recorded_during_a_typed_workout_joins_it():
    owner = athlete()
    typed = part(owner, at(0), 60).workout
    assert imported(owner, csv_file(at(5), 50)).workout == typed
    typed.refresh_from_db()
    assert (typed.start, typed.end) == (at(0), at(60))


@pytest.mark.django_db
def test_a_file_of_one_athlete_never_joins_a_workout_of_another():
    ana, ben = athlete("ana"), athlete("ben")
    imported(ana, FILES[0])
    recording = imported(ben, FILES[0])
    assert recording.workout.owner == ben
    assert Recording.objects.of(ana).count() == Recording.objects.of(ben).count() == 1


@pytest.mark.django_db
def test_the_day_of_a_workout_is_the_local_one():
    late = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
    assert imported(athlete("a", time_zone="UTC"), csv_file(late)).workout.day.day == 2
    assert imported(athlete("b", time_zone="Europe/Helsinki"), csv_file(late)).workout.day.day == 3


@pytest.mark.django_db
def test_a_part_whose_activity_was_set_by_hand_keeps_it_when_a_further_file_comes():
    owner = athlete()
    chosen = imported(owner, FILES[0]).workout.parts.get()
    walk = activity_of(owner, "walk")
    set_activity(chosen, walk)
    imported(owner, csv_file(at(0), 19, device="strap", sports=("cycling",)))
    chosen.refresh_from_db()
    assert chosen.activity == walk


@pytest.mark.django_db
def test_a_further_file_makes_the_estimate_of_its_part_out_of_date():
    owner = athlete()
    only = imported(owner, FILES[0]).workout.parts.get()
    before = only.input_revision
    imported(owner, csv_file(at(0), 19, device="strap"))
    only.refresh_from_db()
    assert only.input_revision > before


@pytest.mark.django_db
def test_a_bridging_file_keeps_the_ratings_and_notes_of_both_workouts_it_joins():
    owner = athlete()
    for content, rating, note in ((FILES[0], 4, "easy"), (FILES[1], 8, "heavy")):
        recording = imported(owner, content)
        first = Part.objects.filter(workout=recording.workout)[0]
        set_session_rpe(first, rating)
        set_note(first.workout, note)
    imported(owner, csv_file(at(1), 38, device="strap", sports=("running", "lifting", "hiit")))
    workout = Workout.objects.get()
    assert [part.session_rpe for part in workout.parts.all()] == [4, 8, None]
    assert workout.note == "easy\nheavy"


@pytest.mark.django_db
def test_a_bridging_file_keeps_the_tags_and_sets_of_both_workouts_it_joins():
    owner = athlete()
    for content, word in ((FILES[0], "squat"), (FILES[1], "press")):
        workout = imported(owner, content).workout
        set_tags(workout, [word, "gym"])
        add_set(workout.parts.all()[0], {"exercise": word, "repetitions": 5})
    imported(owner, csv_file(at(1), 38, device="strap"))
    workout = Workout.objects.get()
    assert [tag.name for tag in workout.tags.all()] == ["gym", "press", "squat"]
    assert {row.exercise for row in LiftSet.objects.filter(part__workout=workout)} == {"squat", "press"}


@pytest.mark.django_db
def test_a_bridging_file_keeps_the_recovery_that_devices_claimed_of_both_workouts_it_joins():
    owner = athlete()
    for content, fed_by in ((FILES[0], "wrist"), (FILES[1], "strap")):
        claim_recovery(imported(owner, content).workout, fed_by, 24)
    claim_recovery(Workout.objects.earliest("start"), "strap", 30)
    imported(owner, csv_file(at(1), 38, device="strap"))
    assert claims_of(Workout.objects.get()) == {"wrist": 24, "strap": 30}


@pytest.mark.django_db
def test_parts_cut_by_hand_reach_to_the_end_that_a_later_file_brings():
    ana = athlete()
    workout = imported(ana, csv_file(minutes=20)).workout
    split_part(workout.parts.get(), MORNING + timedelta(minutes=8))
    longer = csv_file(MORNING + timedelta(minutes=2), 22, device="strap")
    imported(ana, longer, "strap.csv")
    workout.refresh_from_db()
    spans = list(workout.parts.order_by("start").values_list("start", "end"))
    cut = MORNING + timedelta(minutes=8)
    assert spans == [(MORNING, cut), (cut, MORNING + timedelta(minutes=24))]
    assert workout.end == spans[-1][1]
