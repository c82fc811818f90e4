"""Tested sensors of a log held against one another, two at a time, with one reference."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from itertools import combinations

from django.db.models import Count, Q, QuerySet

from accuracy.core.agreement.paired_differences import FEWEST_SESSIONS, holm
from accuracy.core.agreement.sensor_comparison import Comparison, compare_sensors
from accuracy.models import Pair
from accuracy.services.compared_sessions import LeftOut, Paired, Sessions, by_workout, match
from trainlog.models import Activity, Athlete, Sensor

WHOLE = ""
"""Stands for all activities together where figures are kept by the slug of an activity."""


class Way(StrEnum):
    """Which sessions of two sensors are held against each other."""

    SAME = "same"
    MATCHED = "matched"


@dataclass(frozen=True)
class Wish:
    """What is to be compared; what is left open goes by what the log holds."""

    sensors: Sequence[Sensor] = ()
    reference: Sensor | None = None
    activities: Sequence[Activity] = ()
    first: date | None = None
    last: date | None = None
    way: Way | None = None


@dataclass(frozen=True, eq=False)
class Compared:
    """Two sensors over the sessions that were paired.

    Attributes
    ----------
    first, second : Sensor
        A difference is first less second.
    sessions : sequence of Paired
        Oldest first.
    whole : Comparison
        Over all of them.
    by_activity : sequence of (Activity, Comparison)
        Where there is more than one activity.
    left_out : sequence of LeftOut
        Sessions of either without a partner, where sessions are matched.
    adjusted : mapping of str to float
        P of the main figure, of the whole and by activity's slug, adjusted as ``Answer`` says; NaN where
        there is none.
    """

    first: Sensor
    second: Sensor
    sessions: Sequence[Paired]
    whole: Comparison
    by_activity: Sequence[tuple[Activity, Comparison]]
    left_out: Sequence[LeftOut]
    adjusted: Mapping[str, float]


@dataclass(frozen=True, eq=False)
class Answer:
    """What was compared, and how it came out.

    Only p values of the main figure are adjusted, by Holm's method: those of the ``whole_looks`` two
    sensors over all their sessions together, and those of the ``activity_looks`` lines by activity.
    """

    sensors: Sequence[Sensor]
    reference: Sensor | None
    way: Way
    compared: Sequence[Compared]
    whole_looks: int = 0
    activity_looks: int = 0


def compare(athlete: Athlete, wish: Wish) -> Answer:
    """Compare each two of the sensors.

    Parameters
    ----------
    athlete : Athlete
    wish : Wish
        Of the athlete's own rows. Without sensors, all that were tested against the reference; without a
        reference, the one with most pairs; without a way, shared sessions if there are three of them.
    """
    reference = wish.reference or next(iter(references(athlete)), None)
    sensors = list(wish.sensors) or sensors_with_pairs(athlete, reference)
    sessions = Sessions(athlete, _wanted(athlete, wish, sensors, reference))
    two = list(combinations(sensors, 2))
    shared = [[] if wish.way == Way.MATCHED else sessions.shared(*each) for each in two]
    enough = any(len(by_workout(found)) >= FEWEST_SESSIONS for found in shared)
    way = wish.way or (Way.SAME if enough else Way.MATCHED)
    if way == Way.SAME:
        compared = [_of_shared(*each, found) for each, found in zip(two, shared, strict=True)]
    else:
        worn = {sensor.pk: sessions.worn(sensor) for sensor in sensors}
        compared = [_of_matched(a, b, *match(a, b, worn[a.pk], worn[b.pk])) for a, b in two]
    return _adjusted(Answer(sensors, reference, way, compared))


def references(athlete: Athlete) -> list[Sensor]:
    """Reference sensors with usable pairs, the one with most of them first."""
    counted = (
        Pair.objects.of(athlete)
        .filter(usable=True, reference__sensor__isnull=False, tested__sensor__isnull=False)
        .values_list("reference__sensor")
        .annotate(Count("pk"))
    )
    pairs: dict[int, int] = dict(counted)
    found = Sensor.objects.of(athlete).filter(pk__in=list(pairs))
    return sorted(found, key=lambda sensor: (-pairs[sensor.pk], sensor.name))


def sensors_with_pairs(athlete: Athlete, reference: Sensor | None = None) -> list[Sensor]:
    """Tested sensors with usable pairs, with one reference if it is given; by name."""
    pairs = Pair.objects.of(athlete).filter(usable=True, tested__sensor__isnull=False)
    if reference is not None:
        pairs = pairs.filter(reference__sensor=reference)
    keys = pairs.values_list("tested__sensor", flat=True).distinct()
    return list(Sensor.objects.of(athlete).filter(pk__in=list(keys)).prefetch_related("firmware"))


def activities(athlete: Athlete) -> QuerySet[Activity]:
    """Activities with usable pairs."""
    keys = Pair.objects.of(athlete).filter(usable=True).values_list("part__activity", flat=True).distinct()
    return Activity.objects.of(athlete).filter(pk__in=list(keys))


def _wanted(
    athlete: Athlete, wish: Wish, sensors: Sequence[Sensor], reference: Sensor | None
) -> QuerySet[Pair]:
    asked = Q(usable=True, reference__sensor=reference, tested__sensor__in=sensors)
    if wish.activities:
        asked &= Q(part__activity__in=wish.activities)
    if wish.first:
        asked &= Q(part__workout__day__gte=wish.first)
    if wish.last:
        asked &= Q(part__workout__day__lte=wish.last)
    return (
        Pair.objects.of(athlete)
        .filter(asked)
        .select_related("part__workout", "part__activity", "tested")
        .defer("tested__trace_blob", "reference_trace", "tested_trace")
    )


def _of_shared(first: Sensor, second: Sensor, found: Sequence[Paired]) -> Compared:
    """Over shared sessions: parts of one workout are one of them."""
    sessions = by_workout(found)
    return _compared(first, second, sessions, [(kind, by_workout(own)) for kind, own in _kinds(found)], [])


def _of_matched(first: Sensor, second: Sensor, found: Sequence[Paired], left: Sequence[LeftOut]) -> Compared:
    return _compared(first, second, found, _kinds(found), left)


def _kinds(found: Sequence[Paired]) -> list[tuple[Activity, list[Paired]]]:
    """Paired parts by their activity."""
    kinds: dict[int, tuple[Activity, list[Paired]]] = {}
    for one in found:
        kinds.setdefault(one.activities[0].pk, (one.activities[0], []))[1].append(one)
    return sorted(kinds.values(), key=lambda kind: kind[0].name)


def _compared(
    first: Sensor,
    second: Sensor,
    sessions: Sequence[Paired],
    kinds: Sequence[tuple[Activity, Sequence[Paired]]],
    left: Sequence[LeftOut],
) -> Compared:
    by_activity = [(kind, _figures(own)) for kind, own in kinds] if len(kinds) > 1 else []
    return Compared(first, second, sessions, _figures(sessions), by_activity, left, {})


def _figures(sessions: Sequence[Paired]) -> Comparison:
    return compare_sensors([one.first for one in sessions], [one.second for one in sessions])


def _adjusted(answer: Answer) -> Answer:
    """Adjust what says which sensor is nearer for how often that was asked."""
    whole = [one.whole.main.p for one in answer.compared]
    lines = [
        (number, kind.slug, own.main.p)
        for number, one in enumerate(answer.compared)
        for kind, own in one.by_activity
    ]
    of_lines = list(zip(lines, holm([p for *_, p in lines]), strict=True))
    compared = [
        replace(
            one,
            adjusted={WHOLE: of_whole, **{slug: p for (at, slug, _), p in of_lines if at == number}},
        )
        for number, (one, of_whole) in enumerate(zip(answer.compared, holm(whole), strict=True))
    ]
    return replace(
        answer,
        compared=compared,
        whole_looks=sum(not math.isnan(p) for p in whole),
        activity_looks=sum(not math.isnan(p) for *_, p in lines),
    )
