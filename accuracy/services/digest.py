"""From the traces of a part to what estimates and fits need of them; done once per change."""

from __future__ import annotations

import logging
import math
from dataclasses import dataclass

import numpy as np
from django.db import transaction

from accuracy.core.agreement.pair_agreement import agree
from accuracy.core.learning.features import texture_of
from accuracy.core.traces.artefacts import Flags, Principle, Reason, flag, untrustworthy
from accuracy.core.traces.pairing import pair_up
from accuracy.core.traces.states import as_bytes, common_states, states_of
from accuracy.models import Pair, PartEvidence, Stretch, histogram_bytes
from accuracy.services.method import METHOD_VERSION
from trainlog import trace_blob
from trainlog.load.trimp import histogram
from trainlog.models import Part, Recording
from trainlog.readers.reading import Clock
from trainlog.trace import FloatArray, Trace, window

logger = logging.getLogger(__name__)


@dataclass(frozen=True, eq=False)
class Slice:
    """One recording's signals over one part, as long as the part."""

    recording: Recording
    heart_rate: FloatArray
    cadence: FloatArray | None


def slices_of(part: Part) -> list[Slice]:
    """Signals of every recording of a part whose sensor is known, in order of content."""
    recordings = part.workout.recordings.filter(state=Recording.State.READ, sensor__isnull=False)
    return [_slice(part, recording) for recording in recordings.select_related("sensor").order_by("sha256")]


def _slice(part: Part, recording: Recording) -> Slice:
    trace = recording.trace()
    begins = round((part.start - trace.start).total_seconds())
    cadence = trace.others.get("cadence")
    return Slice(
        recording,
        window(trace.heart_rate, begins, part.seconds),
        window(cadence, begins, part.seconds) if cadence is not None else None,
    )


def digest(part: Part) -> bool:
    """Keep histograms, flags and pairs of a part's recordings.

    Returns
    -------
    bool
        False if the part changed meanwhile, and nothing was kept.
    """
    try:
        slices = slices_of(part)
        stretches = [_stretch(part, piece) for piece in slices]
        pairs = [
            _pair(part, reference, tested)
            for reference in slices
            for tested in slices
            if _is_reference(reference) and not _is_reference(tested)
        ]
    except Exception as error:
        logger.exception("Part %s cannot be digested", part.pk)
        _note_failure(part, f"{type(error).__name__}: {error}")
        return True
    with transaction.atomic():
        unchanged = Part.objects.select_for_update().filter(pk=part.pk, input_revision=part.input_revision)
        if not unchanged.exists():
            return False
        Stretch.objects.filter(part=part).delete()
        Pair.objects.filter(part=part).delete()
        Stretch.objects.bulk_create(stretches)
        Pair.objects.bulk_create(pairs)
        PartEvidence.objects.update_or_create(
            part=part,
            defaults={
                "owner_id": part.owner_id,
                "input_revision": part.input_revision,
                "method_version": METHOD_VERSION,
                "attempts": 0,
                "failure": "",
            },
        )
    return True


def _note_failure(part: Part, failure: str) -> None:
    evidence, _ = PartEvidence.objects.get_or_create(
        part=part,
        defaults={"owner_id": part.owner_id, "input_revision": 0, "method_version": METHOD_VERSION},
    )
    again = evidence.input_revision == part.input_revision
    evidence.attempts = evidence.attempts + 1 if again else 1
    evidence.input_revision, evidence.method_version = part.input_revision, METHOD_VERSION
    evidence.failure = failure
    evidence.save()


def _is_reference(piece: Slice) -> bool:
    return piece.recording.sensor is not None and piece.recording.sensor.is_reference


def _valid(piece: Slice, flags: Flags) -> FloatArray:
    """Heart rate that is the sensor's word; what a tested sensor got wrong stays in."""
    out = untrustworthy(flags) if _is_reference(piece) else flags.has(Reason.OUT_OF_RANGE)
    return np.where(out, np.nan, piece.heart_rate)


def _stretch(part: Part, piece: Slice) -> Stretch:
    principle: Principle = "electrical" if _is_reference(piece) else "optical"
    flags = flag(piece.heart_rate, principle=principle, cadence=piece.cadence)
    valid = _valid(piece, flags)
    texture = texture_of(valid, piece.cadence)
    return Stretch(
        owner_id=part.owner_id,
        part=part,
        recording=piece.recording,
        seconds=part.seconds,
        valid_seconds=int(np.isfinite(valid).sum()),
        histogram=histogram_bytes(histogram(valid)),
        flags=[
            [int(begins), int(ends), str(reason.name).lower()] for begins, ends, reason in flags.stretches()
        ],
        states=b"" if _is_reference(piece) else as_bytes(states_of(valid, flags)),
        roughness=texture.roughness,
        mean_cadence=texture.mean_cadence,
    )


def _pair(part: Part, reference: Slice, tested: Slice) -> Pair:
    synchronised = {reference.recording.clock, tested.recording.clock} == {Clock.SYNCHRONISED.value}
    paired = pair_up(
        reference.heart_rate, tested.heart_rate, cadence=tested.cadence, clocks_synchronised=synchronised
    )
    figures: dict[str, object] = {}
    if paired.common_seconds > 1:
        figures = {
            name: value if not isinstance(value, float) or math.isfinite(value) else None
            for name, value in agree(paired.reference, paired.tested).as_dict().items()
        }
    return Pair(
        owner_id=part.owner_id,
        part=part,
        reference=reference.recording,
        tested=tested.recording,
        usable=paired.usable,
        remarks=[sentence for sentence in (paired.why_not, *paired.reasons) if sentence],
        shift=paired.shift.seconds,
        shift_ambiguous=paired.shift.ambiguous,
        shift_uncertainty=paired.shift.uncertainty if math.isfinite(paired.shift.uncertainty) else None,
        shift_drift=paired.shift.drift,
        common_seconds=paired.common_seconds,
        agreement=figures,
        reference_histogram=histogram_bytes(histogram(paired.reference)),
        tested_histogram=histogram_bytes(histogram(paired.tested)),
        common_states=as_bytes(common_states(paired, tested.cadence)),
        reference_trace=trace_blob.pack(Trace(part.start.replace(microsecond=0), paired.reference)),
        tested_trace=trace_blob.pack(Trace(part.start.replace(microsecond=0), paired.tested)),
    )
