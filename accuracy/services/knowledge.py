"""What an athlete's log teaches: the evidence for each kind of instrument, and the fit learned from it."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache

import numpy as np

from accuracy.core.estimates import leftovers
from accuracy.core.estimates.correct import MEASURED_SHARE
from accuracy.core.estimates.leftovers import Leftovers
from accuracy.core.learning import fit_store, priors, profile
from accuracy.core.learning.profile import Cell, PairedLoads, Posterior
from accuracy.core.learning.wrist_fit import WristFit, WristPair, learn_wrist
from accuracy.models import Fit, Pair, Stretch, histogram_bytes
from accuracy.services.calibration import calibration_of
from accuracy.services.method import METHOD_VERSION
from accuracy.services.sessions import LEAST_LOAD, content_of, wrist_pair
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.session_rpe import session_rpe_load
from trainlog.models import Athlete, Part, Physiology
from trainlog.trace import FloatArray

SESSION_RPE, TIME_ALONE = "session-rpe", "time-alone"
"""Kinds of instrument beside the wrist; each has one instrument, named like the kind."""

PhysiologyOn = Callable[[date], PhysiologyDraws | None]


@dataclass
class Evidence:
    """Everything a fit is learned from."""

    wrist: list[WristPair] = field(default_factory=list)
    session_rpe: list[PairedLoads] = field(default_factory=list)
    time_alone: list[PairedLoads] = field(default_factory=list)
    typical_seconds_at_rate: FloatArray = field(default_factory=lambda: np.zeros(256))

    def content_hash(self, athlete: Athlete) -> str:
        """Hash of everything that decides the fit and its estimates, whatever order it was gathered in."""
        lines = [
            f"{kind}|{pair.content}|{pair.cell}|{pair.log_ratio!r}"
            for kind, pairs in ((SESSION_RPE, self.session_rpe), (TIME_ALONE, self.time_alone))
            for pair in pairs
        ]
        lines += [
            f"wrist|{one.session.content}|{one.session.cell}|{one.log_ratio!r}|{one.session.day}"
            f"|{hashlib.sha256(one.session.features.tobytes()).hexdigest()}"
            for one in self.wrist
        ]
        typical = histogram_bytes(self.typical_seconds_at_rate)
        whole = f"{METHOD_VERSION}|{athlete.seed}|{athlete.near_per_cent}|" + "\n".join(sorted(lines))
        return hashlib.sha256(whole.encode() + typical).hexdigest()


@dataclass(frozen=True)
class Knowledge:
    """A fit, ready to estimate with.

    Attributes
    ----------
    wrist : WristFit
    session_rpe, time_alone : Posterior
    typical_seconds_at_rate : array, shape (256,)
        Histogram of the measured parts.
    leftovers : Leftovers
        What a load leaves open of the rates.
    near : float
        Share of the truth within which a load serves the athlete's decisions.
    """

    wrist: WristFit
    session_rpe: Posterior
    time_alone: Posterior
    typical_seconds_at_rate: FloatArray
    leftovers: Leftovers
    near: float


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
            row.first_threshold,
            row.second_threshold,
        )

    def on(day: date) -> PhysiologyDraws | None:
        row = physiology.on(day)
        return draws_of(row) if row else None

    return on


def plain_cell(part: Part, kind: str) -> Cell:
    """Cell of an instrument that is no sensor."""
    return Cell(kind, "", part.activity.family, part.activity.slug)


def learned_pairs(athlete: Athlete, physiology_on: PhysiologyOn) -> Iterator[tuple[Pair, WristPair]]:
    """Usable pairs whose loads are large enough for a ratio, in order of time; no trace is fetched.

    A session of a tested sensor teaches once, whatever many references were worn: by the one with most
    seconds in common.
    """
    pairs = (
        Pair.objects.of(athlete)
        .filter(usable=True)
        .select_related("part__workout", "part__activity", "reference", "tested__sensor")
        .prefetch_related("tested__sensor__firmware")
        .defer("reference_trace", "tested_trace", "reference__trace_blob", "tested__trace_blob")
        .order_by("part__start", "tested__sha256", "-common_seconds", "reference__sha256")
    )
    stretches = {
        (stretch.part_id, stretch.recording_id): stretch
        for stretch in Stretch.objects.of(athlete).filter(part__pairs__usable=True).distinct()
    }
    for pair in pairs:
        physiology = physiology_on(pair.part.workout.day)
        stretch = stretches.pop((pair.part_id, pair.tested_id), None)
        if physiology is None or pair.tested.sensor is None or stretch is None:
            continue
        stretch.part, stretch.recording = pair.part, pair.tested
        found = wrist_pair(pair, stretch, physiology)
        if found is not None:
            yield pair, found


def gather(athlete: Athlete, physiology_on: PhysiologyOn) -> Evidence:
    """Collect all evidence from the digests; no trace is decoded.

    Parameters
    ----------
    athlete : Athlete
    physiology_on : callable
        Physiology in force on a day.
    """
    evidence = Evidence(wrist=[found for _, found in learned_pairs(athlete, physiology_on)])
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
    wrist, foretold = learn_wrist(evidence.wrist, seed=athlete.seed)
    plain = {
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
            "leftovers": leftovers.as_json(leftovers.learn_leftovers(evidence.wrist, wrist)),
            "wrist": fit_store.wrist_fit_as_bytes(wrist),
            "calibration": calibration_of(wrist, foretold, athlete.near_per_cent),
            **{name: fit_store.posterior_as_bytes(posterior) for name, posterior in plain.items()},
        },
    )
    return fit


def knowledge_of(fit: Fit) -> Knowledge:
    """What a fit learned, from its stored draws."""
    seed = fit.owner.seed
    return Knowledge(
        fit_store.wrist_fit_from_bytes(bytes(fit.wrist), seed=seed),
        fit_store.posterior_from_bytes(
            bytes(fit.session_rpe), priors.SESSION_RPE, seed=seed, kind=SESSION_RPE
        ),
        fit_store.posterior_from_bytes(bytes(fit.time_alone), priors.TIME_ALONE, seed=seed, kind=TIME_ALONE),
        np.frombuffer(bytes(fit.typical_histogram), dtype="<f4").astype(float),
        leftovers.from_json(fit.leftovers),
        fit.owner.near_per_cent / 100,
    )
