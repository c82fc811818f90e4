"""Small builders of logs for tests: what a test needs in one line, nothing it does not name."""

from __future__ import annotations

import json
import uuid
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
from django.contrib.auth import get_user_model
from django.test import Client
from django.utils import timezone

from fixtures import csv_writer
from trainlog.load import draws
from trainlog.models import (
    Activity,
    Athlete,
    Basis,
    Confidence,
    IntensityEstimate,
    LoadEstimate,
    Part,
    Physiology,
    Recording,
    Sensor,
    Workout,
)
from trainlog.models.intensity_estimate import minutes_bytes
from trainlog.readers.reading import Segment
from trainlog.services.athletes import open_log, set_physiology
from trainlog.services.import_files import read_recording, receive
from trainlog.services.local_days import set_local_day
from trainlog.services.sensors import save_sensor
from trainlog.trace import Trace

MORNING = datetime(2026, 3, 2, 6, 30, tzinfo=UTC)
"""A Monday."""


def athlete(name: str = "ana", *, time_zone: str = "UTC", seed: int = 1) -> Athlete:
    """Someone with an open log and the first activities in it."""
    user = get_user_model().objects.create_user(username=name, password="a long password")
    return open_log(user, time_zone=time_zone, seed=seed)


def equipped_athlete(name: str, *, strap: str, **wrists: str) -> Athlete:
    """Someone with physiology and sensors, which files name by the argument: "csv:strap", "csv:wrist"."""
    owner = athlete(name)
    set_physiology(
        owner,
        Physiology(
            from_day=date(2026, 1, 1),
            resting_rate=50,
            maximum_rate=190,
            maximum_source="measured",
            maximum_error=3,
        ),
    )
    # Draws are seeded by the keys of sensors: the same in every run.
    keys = {key: uuid.uuid5(uuid.NAMESPACE_OID, f"tests/{key}") for key in ("strap", *wrists)}
    worn = {"name": strap, "site": "chest", "principle": "electrical"}
    save_sensor(owner, Sensor(key=keys["strap"], source_key="csv:strap", **worn))
    for key, label in wrists.items():
        worn = {"name": label, "site": "wrist", "principle": "optical"}
        save_sensor(owner, Sensor(key=keys[key], source_key=f"csv:{key}", **worn))
    return owner


def csv_file(
    start: datetime = MORNING,
    minutes: float = 10,
    *,
    bpm: float = 140,
    device: str = "wrist 1",
    sports: tuple[str, ...] = ("running",),
) -> bytes:
    """Text file of a steady heart rate, cut in equal stretches for the sports it names."""
    seconds = round(minutes * 60)
    trace = Trace(start=start, heart_rate=np.full(seconds, float(bpm)))
    edges = [start + timedelta(seconds=i * seconds // max(len(sports), 1)) for i in range(len(sports) + 1)]
    segments = [Segment(edges[i], edges[i + 1], sport) for i, sport in enumerate(sports)]
    return csv_writer.write(trace, device, segments)


def imported(owner: Athlete, content: bytes, name: str = "morning.csv") -> Recording:
    """Recording of a file that was received and read, whether or not it could be."""
    recording = receive(owner, name, content)
    read_recording(recording.pk)
    recording.refresh_from_db()
    return recording


def waiting(owner: Athlete, *, minutes: float = 5, **fields: object) -> Recording:
    """File received so many minutes ago, and not yet read."""
    start = MORNING + timedelta(days=Recording.objects.count())
    recording = receive(owner, "ride.csv", csv_file(start, minutes=2))
    told = {"received_at": timezone.now() - timedelta(minutes=minutes)} | fields
    Recording.objects.filter(pk=recording.pk).update(**told)
    recording.refresh_from_db()
    return recording


def sensor(owner: Athlete, name: str = "wrist", **fields: str) -> Sensor:
    """A sensor, optical and on the wrist unless told otherwise."""
    return Sensor.objects.create(owner=owner, name=name, **fields)


def strap(owner: Athlete, name: str = "strap", **fields: str) -> Sensor:
    """A reference sensor."""
    return sensor(owner, name, site=Sensor.Site.CHEST, principle=Sensor.Principle.ELECTRICAL, **fields)


def part(
    owner: Athlete,
    start: datetime = MORNING,
    minutes: float = 60,
    *,
    activity: str = "run",
    session_rpe: float | None = None,
) -> Part:
    """The only part of a workout that has no recording."""
    end = start + timedelta(minutes=minutes)
    workout = Workout(owner=owner, start=start, end=end, by_hand=True)
    set_local_day(workout, owner.whereabouts())
    workout.save()
    return Part.objects.create(
        owner=owner,
        workout=workout,
        start=start,
        end=end,
        activity=activity_of(owner, activity),
        session_rpe=session_rpe,
    )


def activity_of(owner: Athlete, slug: str) -> Activity:
    """One of an athlete's activities."""
    return Activity.objects.of(owner).get(slug=slug)


def intensity(
    of: Part,
    *,
    low: float = 0,
    threshold: float = 0,
    high: float = 0,
    bands: Sequence[float] = (0, 0, 0, 0, 0),
    source: str | None = None,
) -> IntensityEstimate:
    """Minutes of a part below, between and above the thresholds, and in bands, without doubt.

    Shown unless it names another source.
    """
    domains, in_bands = (
        minutes_bytes(np.tile(minutes, (draws.DRAWS, 1))) for minutes in ([low, threshold, high], bands)
    )
    return IntensityEstimate.objects.create(
        owner=of.owner,
        part=of,
        source=of.owner.current_source if source is None else source,
        bands=in_bands,
        bands_of_maximum=in_bands,
        domains=domains,
    )


def estimate(
    of: Part,
    load: float | np.ndarray = 100.0,
    *,
    source: str | None = None,
    basis: str = Basis.CORRECTED,
    reason: str = "Because the test says so.",
    measure: str = "trimp",
) -> LoadEstimate:
    """Estimate with the given draws, their doubt all the sensor's; shown unless it names another source."""
    values = np.broadcast_to(np.asarray(load, dtype=float), (draws.DRAWS,))
    low, median, high = draws.interval(values)
    half_width = draws.relative_half_width(values)
    return LoadEstimate.objects.create(
        owner=of.owner,
        part=of,
        measure=measure,
        source=of.owner.current_source if source is None else source,
        method_version=1,
        input_revision=of.input_revision,
        basis=basis,
        confidence=Confidence.of(half_width),
        reason=reason,
        raw=median,
        low=low,
        median=median,
        high=high,
        sensor_half_width=half_width,
        all_draws=draws.pack(values),
        sensor_draws=draws.pack(values),
        physiology_draws=draws.pack(np.full(draws.DRAWS, median)),
    )


def send(client: Client, method: str, address: str, body: object) -> Any:
    """Answer to a request of a program, its body as JSON."""
    return client.generic(method, address, json.dumps(body), content_type="application/json")
