"""Pairs with kept traces, and profiles with pooled agreement, in one line."""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from accuracy.core.agreement.pair_agreement import agree
from accuracy.core.traces.artefacts import Flags
from accuracy.core.traces.states import as_bytes, states_of
from accuracy.models import Advice, ErrorProfile, Fit, Pair, Stretch, histogram_bytes
from accuracy.services.pooled_agreement import pooled_agreements
from tests.builders import MORNING, activity_of, csv_file, imported, sensor, strap
from trainlog import trace_blob
from trainlog.load.trimp import histogram
from trainlog.models import Athlete, Part, Physiology, Sensor
from trainlog.trace import FloatArray, Trace

MINUTES = 10


def athlete_with_physiology(owner: Athlete) -> Athlete:
    Physiology.objects.create(owner=owner, from_day=MORNING.date(), resting_rate=50, maximum_rate=190)
    return owner


def work(seconds: int = 60 * MINUTES) -> FloatArray:
    """Heart rate that rises and falls between 110 and 150 bpm every two minutes."""
    return 130 + 20 * np.sin(2 * np.pi * np.arange(seconds) / 120)


def kept_pair(
    owner: Athlete,
    reference: FloatArray | None = None,
    tested: FloatArray | None = None,
    *,
    day: int = 0,
    flags: list[list] | None = None,
    clock: str = "unknown",
    **changes,
) -> Pair:
    """Pair of ten minutes whose tested sensor reads 10 bpm low unless told otherwise."""
    start = MORNING + timedelta(days=day)
    reference = work() if reference is None else reference
    tested = reference - 10 if tested is None else tested
    one = imported(owner, csv_file(start, bpm=140, device="chest"), "strap.csv")
    two = imported(owner, csv_file(start, bpm=126, device="left"), "wrist.csv")
    one.sensor = Sensor.objects.of(owner).filter(site="chest").first() or strap(owner)
    two.sensor = Sensor.objects.of(owner).filter(site="wrist").first() or sensor(owner)
    one.clock = two.clock = clock
    one.save()
    two.save()
    both = np.isfinite(reference) & np.isfinite(tested)
    reference, tested = np.where(both, reference, np.nan), np.where(both, tested, np.nan)
    fields = {
        "usable": True,
        "remarks": ["Reference: 9 s cut (no reading)."],
        "shift": 0.0,
        "shift_ambiguous": False,
        "agreement": agree(reference, tested).as_dict() if both.sum() > 1 else {},
    }
    part = Part.objects.get(workout=one.workout)
    no_flags = Flags(np.zeros(len(tested), dtype=np.uint16))
    made = Pair.objects.create(
        owner=owner,
        part=part,
        reference=one,
        tested=two,
        common_seconds=int(both.sum()),
        reference_histogram=histogram_bytes(histogram(reference)),
        tested_histogram=histogram_bytes(histogram(tested)),
        common_states=as_bytes(states_of(tested, no_flags, reference)),
        reference_trace=trace_blob.pack(Trace(start, reference)),
        tested_trace=trace_blob.pack(Trace(start, tested)),
        **(fields | changes),
    )
    Stretch.objects.create(
        owner=owner,
        part=part,
        recording=two,
        seconds=part.seconds,
        valid_seconds=int(both.sum()),
        histogram=made.tested_histogram,
        flags=flags or [],
        states=as_bytes(states_of(tested, no_flags)),
    )
    return made


def shown_profile(owner: Athlete, of: Pair, **changes) -> ErrorProfile:
    """Profile of the pair's sensor and activity with everything pooled, on show."""
    worn = of.tested.sensor
    assert worn
    nothing = {field.name: b"" for field in Fit._meta.fields if field.get_internal_type() == "BinaryField"}
    fit = Fit.objects.create(owner=owner, inputs_hash="f" * 64, method_version=1, pair_count=4, **nothing)
    owner.current_source = fit.source
    owner.save()
    fields = {
        "pair_count": 4,
        "ratio": 1.1,
        "ratio_low": 1.0,
        "ratio_high": 1.2,
        "within_ten": 0.8,
        "raw_within_ten": 0.3,
        "advice": Advice.STRAP_ADVISED,
        "reason": "Because four pairs say so.",
        "agreement": pooled_agreements(owner).get((worn.pk, of.part.activity_id), {}),
    }
    return ErrorProfile.objects.create(
        owner=owner,
        fit=fit,
        sensor=worn,
        activity=activity_of(owner, "run"),
        **(fields | changes),
    )
