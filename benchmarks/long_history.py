"""A log of years of one workout a day, its estimates made directly; imported once Django is set up."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
from django.contrib.auth.models import User

from trainlog.load import draws
from trainlog.models import (
    Activity,
    Athlete,
    Basis,
    Confidence,
    IntensityEstimate,
    LoadEstimate,
    Measure,
    Part,
    Physiology,
    Workout,
)
from trainlog.models.intensity_estimate import minutes_bytes
from trainlog.services.athletes import open_log
from trainlog.trace import FloatArray

HOUR = timedelta(hours=1)

AT_ONCE = 200
"""Parts whose estimates are written together."""

SOURCE = "fit"

REASON = "By its trace and your rating of 6, Wrist reads 14% low here, most likely 5 to 21% low."
"""As long as they are."""


def log_of(years: int) -> Athlete:
    """Log with an hour of training on every day of so many years up to today."""
    athlete = open_log(User.objects.create(username=f"years{years}"), seed=11)
    athlete.current_source = SOURCE
    athlete.save()
    count = round(365.25 * years)
    first = datetime.now(UTC).replace(hour=0, minute=1) - timedelta(days=count - 1)
    Physiology.objects.create(owner=athlete, from_day=first.date(), resting_rate=50, maximum_rate=188)
    activities = [
        row for row in Activity.objects.of(athlete) if row.slug in {"run", "lifting", "mixed-intervals"}
    ]
    starts = [first + timedelta(days=number) for number in range(count)]
    workouts = Workout.objects.bulk_create(
        Workout(owner=athlete, start=start, end=start + HOUR, day=start.date()) for start in starts
    )
    parts = Part.objects.bulk_create(
        Part(
            owner=athlete,
            workout=workout,
            start=workout.start,
            end=workout.end,
            activity=activities[number % len(activities)],
            session_rpe=number % 9,
        )
        for number, workout in enumerate(workouts)
    )
    for begun in range(0, count, AT_ONCE):
        _keep_estimates(parts[begun : begun + AT_ONCE], begun)
    return athlete


def _keep_estimates(parts: Sequence[Part], begun: int) -> None:
    """Write what is kept of some parts, the first of which stands so far along the log."""
    rng = np.random.default_rng(begun)
    loads: list[LoadEstimate] = []
    intensities: list[IntensityEstimate] = []
    for number, part in enumerate(parts, start=begun):
        doubt = np.exp(0.15 * draws.standard_normals(f"{number}"))
        loads += [_row(part, measure, rng.gamma(4, 20) * doubt) for measure in Measure]
        bands, domains = (60 * rng.dirichlet(np.ones(kinds), draws.DRAWS) for kinds in (5, 3))
        intensities.append(
            IntensityEstimate(
                owner=part.owner,
                part=part,
                source=SOURCE,
                bands=minutes_bytes(bands),
                bands_of_maximum=minutes_bytes(bands),
                domains=minutes_bytes(domains),
            )
        )
    LoadEstimate.objects.bulk_create(loads, batch_size=AT_ONCE)
    IntensityEstimate.objects.bulk_create(intensities, batch_size=AT_ONCE)


def _row(part: Part, measure: Measure, load: FloatArray) -> LoadEstimate:
    low, median, high = draws.interval(load)
    half_width = draws.relative_half_width(load)
    packed = draws.pack(load)
    return LoadEstimate(
        owner=part.owner,
        part=part,
        measure=measure,
        source=SOURCE,
        method_version=1,
        input_revision=part.input_revision,
        basis=Basis.CORRECTED,
        confidence=Confidence.of(half_width),
        reason=REASON,
        raw=median,
        low=low,
        median=median,
        high=high,
        sensor_half_width=half_width,
        all_draws=packed,
        sensor_draws=packed,
        physiology_draws=draws.pack(np.full(draws.DRAWS, median)),
    )
