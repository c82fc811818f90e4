"""What an athlete's log teaches: the evidence for each kind of instrument, and the fit learned from it."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache

import numpy as np

from accuracy.core import priors, profile
from accuracy.core.correct import MEASURED_SHARE
from accuracy.core.profile import Cell, PairedLoads, Posterior
from accuracy.models import Fit, Pair, Stretch, histogram_bytes
from accuracy.services.method import METHOD_VERSION
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.session_rpe import session_rpe_load
from trainlog.models import Athlete, Part, Physiology, Recording, Sensor
from trainlog.trace import FloatArray

WRIST, SESSION_RPE, TIME_ALONE = "wrist", "session-rpe", "time-alone"
"""Kinds of instrument; the last two have one instrument each, named like the kind."""

LEAST_LOAD = 1.0
"""Loads below this say nothing about a ratio (common practice, no source)."""

PhysiologyOn = Callable[[date], PhysiologyDraws | None]


@dataclass
class Evidence:
    """Everything a fit is learned from."""

    wrist: list[PairedLoads] = field(default_factory=list)
    session_rpe: list[PairedLoads] = field(default_factory=list)
    time_alone: list[PairedLoads] = field(default_factory=list)
    typical_seconds_at_rate: FloatArray = field(default_factory=lambda: np.zeros(256))

    def content_hash(self, athlete: Athlete) -> str:
        """Hash of everything that decides the fit, whatever order it was gathered in."""
        lines = sorted(
            f"{kind}|{pair.content}|{pair.cell}|{pair.log_ratio!r}"
            for kind, pairs in (
                (WRIST, self.wrist),
                (SESSION_RPE, self.session_rpe),
                (TIME_ALONE, self.time_alone),
            )
            for pair in pairs
        )
        typical = histogram_bytes(self.typical_seconds_at_rate)
        whole = f"{METHOD_VERSION}|{athlete.seed}|" + "\n".join(lines)
        return hashlib.sha256(whole.encode() + typical).hexdigest()


@dataclass(frozen=True)
class Knowledge:
    """A fit, ready to estimate with."""

    wrist: Posterior
    session_rpe: Posterior
    time_alone: Posterior
    typical_seconds_at_rate: FloatArray


def physiology_by_day(athlete: Athlete) -> PhysiologyOn:
    """Lookup of the draws in force on a day."""
    physiology = athlete.physiology()

    @lru_cache(maxsize=64)
    def draws_of(row: Physiology) -> PhysiologyDraws:
        return PhysiologyDraws(
            row.resting_rate,
            row.maximum_rate,
            row.resting_error,
            row.maximum_error,
            row.load_weighting,
            athlete.seed,
        )

    def on(day: date) -> PhysiologyDraws | None:
        row = physiology.on(day)
        return draws_of(row) if row else None

    return on


def content_of(part: Part, recording: Recording | None = None) -> str:
    """Content of a session: which bytes, and where in time; never a primary key."""
    return f"{recording.sha256 if recording else ''}/{part.start.timestamp():.0f}+{part.seconds}"


def wrist_cell(part: Part, sensor: Sensor) -> Cell:
    """Cell of a sensor on a part's day and activity."""
    return Cell(
        str(sensor.key), sensor.firmware_on(part.workout.day), part.activity.family, part.activity.slug
    )


def plain_cell(part: Part, kind: str) -> Cell:
    """Cell of an instrument that is no sensor."""
    return Cell(kind, "", part.activity.family, part.activity.slug)


@dataclass(frozen=True)
class LoadsOfPair:
    """A usable pair with both loads over its common seconds, at the central physiology of its day."""

    pair: Pair
    cell: Cell
    reference_load: float
    tested_load: float
    content: str


def paired_loads(athlete: Athlete, physiology_on: PhysiologyOn) -> Iterator[LoadsOfPair]:
    """Usable pairs whose loads are large enough for a ratio, in order of time; no trace is fetched."""
    pairs = (
        Pair.objects.of(athlete)
        .filter(usable=True)
        .select_related("part__workout", "part__activity", "reference", "tested__sensor")
        .prefetch_related("tested__sensor__firmware")
        .defer("reference_trace", "tested_trace", "reference__trace_blob", "tested__trace_blob")
        .order_by("part__start", "tested__sha256")
    )
    for pair in pairs:
        physiology = physiology_on(pair.part.workout.day)
        if physiology is None or pair.tested.sensor is None:
            continue
        reference, tested = (physiology.central_load(histogram) for histogram in pair.histograms)
        if min(reference, tested) >= LEAST_LOAD:
            content = f"{content_of(pair.part, pair.reference)}/{pair.tested.sha256}"
            yield LoadsOfPair(pair, wrist_cell(pair.part, pair.tested.sensor), reference, tested, content)


def gather(athlete: Athlete, physiology_on: PhysiologyOn) -> Evidence:
    """Collect all evidence from the digests; no trace is decoded.

    Parameters
    ----------
    athlete : Athlete
    physiology_on : callable
        Physiology in force on a day.
    """
    evidence = Evidence()
    for found in paired_loads(athlete, physiology_on):
        evidence.wrist.append(
            PairedLoads(found.cell, math.log(found.reference_load / found.tested_load), found.content)
        )
    for stretch in measured_stretches(athlete):
        part = stretch.part
        physiology = physiology_on(part.workout.day)
        if physiology is None:
            continue
        load = physiology.central_load(stretch.seconds_at_rate) * stretch.seconds / stretch.valid_seconds
        if load < LEAST_LOAD:
            continue
        evidence.typical_seconds_at_rate += stretch.seconds_at_rate
        content, minutes = content_of(part, stretch.recording), part.seconds / 60
        evidence.time_alone.append(
            PairedLoads(plain_cell(part, TIME_ALONE), math.log(load / minutes), content)
        )
        if part.session_rpe:
            rated = session_rpe_load(part.session_rpe, minutes)
            evidence.session_rpe.append(
                PairedLoads(plain_cell(part, SESSION_RPE), math.log(load / rated), content)
            )
    return evidence


def measured_stretches(athlete: Athlete) -> Iterable[Stretch]:
    """Reference stretches that measure their part: the fullest one of each part, in order of content."""
    best: dict[int, Stretch] = {}
    stretches = (
        Stretch.objects.of(athlete)
        .filter(valid_seconds__gt=0)
        .select_related("part__workout", "part__activity", "recording__sensor")
        .defer("recording__trace_blob")
        .order_by("part_id", "-valid_seconds", "recording__sha256")
    )
    for stretch in stretches:
        sensor = stretch.recording.sensor
        if sensor and sensor.is_reference and stretch.valid_seconds >= MEASURED_SHARE * stretch.seconds:
            best.setdefault(stretch.part_id, stretch)
    return sorted(best.values(), key=lambda stretch: (stretch.recording.sha256, stretch.part.start))


def fit_of(athlete: Athlete, evidence: Evidence) -> Fit:
    """The fit of this evidence: the one there is, or a new one, not yet published."""
    inputs_hash = evidence.content_hash(athlete)
    known = Fit.objects.of(athlete).filter(inputs_hash=inputs_hash, method_version=METHOD_VERSION).first()
    if known:
        return known
    learned = {
        "wrist": profile.learn(evidence.wrist, priors.WRIST, seed=athlete.seed, kind=WRIST),
        "session_rpe": profile.learn(
            evidence.session_rpe, priors.SESSION_RPE, seed=athlete.seed, kind=SESSION_RPE
        ),
        "time_alone": profile.learn(
            evidence.time_alone, priors.TIME_ALONE, seed=athlete.seed, kind=TIME_ALONE
        ),
    }
    fit, _ = Fit.objects.get_or_create(
        owner=athlete,
        inputs_hash=inputs_hash,
        method_version=METHOD_VERSION,
        defaults={
            "pair_count": len(evidence.wrist),
            "typical_histogram": histogram_bytes(evidence.typical_seconds_at_rate),
            **{name: profile.as_bytes(posterior) for name, posterior in learned.items()},
        },
    )
    return fit


def knowledge_of(fit: Fit) -> Knowledge:
    """What a fit learned, from its stored draws."""
    seed = fit.owner.seed
    return Knowledge(
        profile.from_bytes(bytes(fit.wrist), priors.WRIST, seed=seed, kind=WRIST),
        profile.from_bytes(bytes(fit.session_rpe), priors.SESSION_RPE, seed=seed, kind=SESSION_RPE),
        profile.from_bytes(bytes(fit.time_alone), priors.TIME_ALONE, seed=seed, kind=TIME_ALONE),
        np.frombuffer(bytes(fit.typical_histogram), dtype="<f4").astype(float),
    )
