"""Opening a log and changing what it knows about the athlete."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import ValidationError

from tests.builders import athlete
from trainlog.models import Activity, Athlete, Physiology, Workout
from trainlog.services.athletes import add_activity, log_of, save_settings, set_physiology
from trainlog.services.edit_workout import add_typed_workout

pytestmark = pytest.mark.django_db


def late_run(owner):
    run = Activity.objects.of(owner).get(slug="run")
    return add_typed_workout(owner, datetime(2026, 3, 2, 23, 30, tzinfo=UTC), 40, run, 5)


def test_whoever_signs_in_has_one_log():
    owner = athlete()
    assert log_of(owner.user) == log_of(owner.user) == owner


def test_a_new_log_has_activities_in_every_family():
    assert {row.family for row in Activity.objects.of(athlete())} == {
        "steady",
        "intervals",
        "resistance",
        "mixed",
        "other",
    }


def test_another_time_zone_moves_workouts_to_their_local_day():
    owner = athlete()
    workout = late_run(owner)
    assert workout.day == date(2026, 3, 2)
    owner.time_zone = "Europe/Athens"
    save_settings(owner)
    assert Workout.objects.get(pk=workout.pk).day == date(2026, 3, 3)


def test_a_workout_that_moved_to_another_day_is_estimated_anew():
    owner = athlete()
    part = late_run(owner).parts.get()
    before = part.input_revision
    owner.time_zone = "Europe/Athens"
    save_settings(owner)
    part.refresh_from_db()
    assert part.input_revision == before + 1


def test_an_activity_of_ones_own_joins_its_family():
    owner = athlete()
    assert add_activity(owner, "Kettlebell complex", "mixed").slug == "kettlebell-complex"


@pytest.mark.parametrize(("name", "family"), [("Run", "steady"), ("", "steady"), ("Sledding", "no family")])
def test_an_activity_that_is_there_or_has_no_name_or_family_is_refused(name, family):
    owner = athlete()
    with pytest.raises(ValidationError):
        add_activity(owner, name, family)
    assert Activity.objects.of(owner).count() == 11


def test_physiology_entered_again_for_a_day_replaces_that_days():
    owner = athlete()
    for maximum in (180, 190):
        set_physiology(owner, Physiology(from_day=date(2026, 1, 1), resting_rate=50, maximum_rate=maximum))
    assert [row.maximum_rate for row in Physiology.objects.of(owner)] == [190]


@pytest.mark.parametrize(
    "wrong",
    [
        {"maximum_rate": 300},
        {"resting_rate": 10},
        {"maximum_rate": 110, "resting_rate": 100},
        {"maximum_error": 40},
        {"weighting": "own"},
    ],
)
def test_physiology_that_no_heart_has_is_refused(wrong):
    owner = athlete()
    with pytest.raises(ValidationError):
        set_physiology(
            owner,
            Physiology(**{"from_day": date(2026, 1, 1), "resting_rate": 50, "maximum_rate": 190, **wrong}),
        )
    assert not Physiology.objects.of(owner).exists()


def test_the_newest_physiology_not_after_a_day_is_in_force():
    owner = athlete()
    for month, maximum in ((1, 180), (6, 190)):
        set_physiology(
            owner, Physiology(from_day=date(2026, month, 1), resting_rate=50, maximum_rate=maximum)
        )
    stored = Athlete.objects.get(pk=owner.pk)
    on = {
        day: stored.physiology().on(day).maximum_rate
        for day in (date(2025, 1, 1), date(2026, 5, 31), date(2026, 6, 1))
    }
    assert list(on.values()) == [180, 180, 190]
