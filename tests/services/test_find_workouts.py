from datetime import timedelta

import pytest

from tests.builders import MORNING, activity_of, athlete, csv_file, estimate, imported, part, sensor, strap
from trainlog.models import Confidence, Measure, Sensor
from trainlog.services.edit_workout import set_note
from trainlog.services.find_workouts import Wanted, find_workouts, loosened
from trainlog.services.tags import set_tags

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


def later(days):
    return MORNING + timedelta(days=days)


def found(owner, **wanted):
    """Days of what is found, counted from the first morning."""
    days = find_workouts(owner, Wanted(**wanted)).order_by("start").values_list("day", flat=True)
    return [(day - MORNING.date()).days for day in days]


@pytest.fixture
def worn(ana):
    """A day with the wrist alone, one with wrist and strap, one without a file, one of an unknown sensor."""
    sensor(ana, "left wrist", source_key="csv:watch")
    strap(ana, "belt", source_key="csv:chest")
    imported(ana, csv_file(later(0), device="watch"), "early.csv")
    imported(ana, csv_file(later(1), device="watch"), "w.csv")
    imported(ana, csv_file(later(1), device="chest"), "s.csv")
    part(ana, later(2))
    imported(ana, csv_file(later(3), device="mystery"), "Abend Läufe.csv")
    return ana


def test_nothing_wanted_finds_everything(worn):
    assert found(worn) == [0, 1, 2, 3]


def test_words_are_found_in_notes_tags_activities_sensors_and_files(worn):
    typed = part(worn, later(4), activity="lifting").workout
    set_note(typed, "Knee fine, 5x5")
    set_tags(typed, ["Gym"])
    assert found(worn, text="knee") == [4]
    assert found(worn, text="GYM") == [4]
    assert found(worn, text="lift") == [4]
    assert found(worn, text="belt") == [1]
    assert found(worn, text="early") == [0]


def test_every_word_must_be_found_but_not_in_the_same_place(worn):
    typed = part(worn, later(4), activity="lifting").workout
    set_note(typed, "fine")
    assert found(worn, text="fine lifting") == [4]
    assert found(worn, text="fine run") == []


def test_case_does_not_matter_beyond_the_english_alphabet(worn):
    assert found(worn, text="LÄUFE") == [3]


@pytest.mark.parametrize("text", ["5%5", "_", "(", "[a-z", "\\", ".*", "5x5+"])
def test_no_character_of_a_search_is_a_pattern(worn, text):
    set_note(part(worn, later(4)).workout, "plain words 5x5")
    assert found(worn, text=text) == []


def test_a_workout_whose_parts_match_twice_is_found_once(ana):
    one = part(ana)
    one.pk = None
    one.save()
    assert found(ana, activity=activity_of(ana, "run"), text="run") == [0]


def test_workouts_are_found_by_activity_and_family(ana):
    part(ana, later(0), activity="lifting")
    part(ana, later(1), activity="row")
    assert found(ana, activity=activity_of(ana, "row")) == [1]
    assert found(ana, family="resistance") == [0]


def test_workouts_are_found_by_what_was_worn(worn):
    assert found(worn, sensor=Sensor.objects.get(name="left wrist")) == [0, 1]
    assert found(worn, worn="strap") == [1]
    assert found(worn, worn="wrist") == [0]
    assert found(worn, worn="nothing") == [2]


def test_basis_and_confidence_are_those_of_one_part_and_of_what_is_shown(ana):
    estimate(part(ana, later(0)), basis="measured")
    loose = estimate(part(ana, later(1)), basis="corrected")
    loose.confidence = Confidence.LOOSE
    loose.save()
    estimate(part(ana, later(2)), basis="corrected", source="an older one")
    other = estimate(part(ana, later(3)), basis="corrected")
    other.measure = Measure.ZONES
    other.save()
    assert found(ana, basis="corrected") == [1]
    assert found(ana, confidence="firm") == [0]
    assert found(ana, basis="corrected", confidence="firm") == []


def test_a_workout_is_rated_when_all_of_it_is(ana):
    part(ana, later(0), session_rpe=5)
    half = part(ana, later(1), session_rpe=5)
    half.pk, half.session_rpe = None, None
    half.save()
    part(ana, later(2), session_rpe=0)
    assert found(ana, rated="yes") == [0, 2]
    assert found(ana, rated="no") == [1]


def test_a_tag_is_found_whole_and_in_any_case(ana):
    set_tags(part(ana, later(0)).workout, ["Hill"])
    set_tags(part(ana, later(1)).workout, ["hill repeats"])
    assert found(ana, tag="hill") == [0]


def test_both_days_are_included(ana):
    for day in range(5):
        part(ana, later(day))
    assert found(ana, first=later(1).date(), last=later(3).date()) == [1, 2, 3]


def test_no_workout_of_another_is_found(ana, worn):
    bo = athlete("bo")
    theirs = part(bo, later(9), activity="lifting").workout
    set_note(theirs, "knee")
    assert found(ana, text="knee") == []
    assert found(ana, activity=activity_of(bo, "lifting")) == []


def test_finding_is_one_query_whatever_is_wanted(worn, django_assert_num_queries):
    wanted = Wanted(
        text="a b c d",
        activity=activity_of(worn, "run"),
        family="steady",
        sensor=Sensor.objects.get(name="belt"),
        worn="wrist",
        basis="measured",
        confidence="firm",
        rated="no",
        tag="x",
        first=later(0).date(),
        last=later(9).date(),
    )
    with django_assert_num_queries(1):
        assert list(find_workouts(worn, wanted)) == []


def test_what_could_be_left_out_is_told_with_how_many_would_be_found(worn):
    wanted = Wanted(worn="strap", first=later(2).date())
    assert loosened(worn, wanted) == {"worn": 2, "first": 1}


def test_leaving_out_the_only_wish_is_no_loosening(worn):
    assert loosened(worn, Wanted(text="nowhere")) == {}
