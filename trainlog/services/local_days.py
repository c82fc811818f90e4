"""Which local day a workout falls on: a function of home, the stays elsewhere, and when it began."""

from __future__ import annotations

from trainlog.models import Athlete, Part, Workout
from trainlog.services.log_changed import log_changed
from trainlog.whereabouts import Whereabouts


def set_local_day(workout: Workout, whereabouts: Whereabouts) -> None:
    """Give a workout, not yet saved, its local day and the zone of a stay during which it began."""
    zone = whereabouts.zone_at(workout.start)
    workout.day = workout.start.astimezone(zone).date()
    workout.time_zone = "" if zone == whereabouts.home else zone.key


def move_to_local_days(athlete: Athlete) -> None:
    """Move workouts to their local days after home or a stay has changed. Call it inside the transaction."""
    whereabouts = athlete.whereabouts()
    moved, changed = [], []
    for workout in Workout.objects.of(athlete).only("start", "day", "time_zone"):
        before = workout.day, workout.time_zone
        set_local_day(workout, whereabouts)
        if workout.day != before[0]:
            moved.append(workout)
        if (workout.day, workout.time_zone) != before:
            changed.append(workout)
    Workout.objects.bulk_update(changed, ["day", "time_zone"], batch_size=500)
    # Physiology and firmware are in force by local day.
    log_changed(athlete, Part.objects.of(athlete).filter(workout__in=moved))
