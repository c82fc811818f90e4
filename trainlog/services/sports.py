"""Which of the athlete's activities a sport word of a file means."""

from __future__ import annotations

from trainlog.models import Activity, Athlete
from trainlog.services.athletes import OTHER

SLUG_OF_SPORT = {
    "running": "run",
    "run": "run",
    "trail": "run",
    "treadmill": "run",
    "cycling": "ride",
    "biking": "ride",
    "ride": "ride",
    "indoor_cycling": "ride",
    "rowing": "row",
    "indoor_rowing": "row",
    "row": "row",
    "walking": "walk",
    "hiking": "walk",
    "walk": "walk",
    "swimming": "swim",
    "lap_swimming": "swim",
    "open_water": "swim",
    "cross_country_skiing": "ski",
    "strength_training": "lifting",
    "strength": "lifting",
    "lifting": "lifting",
    "hiit": "mixed-intervals",
    "cardio_training": "mixed-intervals",
    "mixed_intervals": "mixed-intervals",
    "interval_run": "interval-run",
    "interval_ride": "interval-ride",
}
"""Sport words of the open file formats, and our own, with the slug of the activity meant."""


def activity_for(athlete: Athlete, sport: str) -> Activity:
    """Activity for a sport word: the athlete's own slug first, then the usual words, else "other"."""
    word = sport.strip().lower().replace(" ", "_")
    slugs = [word.replace("_", "-"), SLUG_OF_SPORT.get(word, OTHER), OTHER]
    known = {activity.slug: activity for activity in Activity.objects.of(athlete).filter(slug__in=slugs)}
    return next(known[slug] for slug in slugs if slug in known)
