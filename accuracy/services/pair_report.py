"""What a page or an export says of one pair beyond what is stored of it: computed from its kept traces."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db.models import QuerySet

from accuracy.core.agreement.pair_agreement import Agreement, agree
from accuracy.core.agreement.pair_report import PairReport, report_pair
from accuracy.core.agreement.recovery_difference import RecoveryDifference, recovery_difference
from accuracy.core.agreement.timing import lag
from accuracy.core.traces.align import Shift
from accuracy.models import Pair, Stretch
from accuracy.services.knowledge import physiology_by_day
from accuracy.services.sessions import LEAST_LOAD
from trainlog.load.physiology import PhysiologyDraws
from trainlog.models import Athlete, Measure, Physiology
from trainlog.readers.reading import Clock
from trainlog.services.lines import monday_of
from trainlog.services.recovery import usual_daily_loads
from trainlog.trace import FloatArray


@dataclass(frozen=True)
class Flagged:
    """A flagged stretch on the pair's own clock; role is ``reference`` or ``tested``."""

    role: str
    begins: float
    ends: float
    reason: str


@dataclass(frozen=True, eq=False)
class ReportedPair:
    """A pair with its traces and everything that is reported of it.

    Attributes
    ----------
    reference, tested : array, shape (seconds,)
        Heart rate in bpm over the part, NaN outside the common seconds.
    report : PairReport or None
        None where fewer than two seconds are common; without intensities where no physiology is known.
    physiology : Physiology or None
        In force on the day.
    flagged : list of Flagged
        In order of trace and time.
    lag : Shift or None
        How late the tested sensor follows; None where the clocks may differ, and so it cannot be told.
    recovery : RecoveryDifference or None
        None without physiology, or where the reference holds no load.
    """

    pair: Pair
    reference: FloatArray
    tested: FloatArray
    report: PairReport | None
    physiology: Physiology | None
    flagged: Sequence[Flagged]
    lag: Shift | None
    recovery: RecoveryDifference | None


def pairs_of(athlete: Athlete) -> QuerySet[Pair]:
    """An athlete's pairs with all that a report needs, no recording's trace among it."""
    return (
        Pair.objects.of(athlete)
        .select_related("owner", "part__workout", "part__activity", "reference__sensor", "tested__sensor")
        .prefetch_related("tested__sensor__firmware", "reference__sensor__firmware")
        .defer("reference__trace_blob", "tested__trace_blob")
    )


def traces_of(pair: Pair) -> tuple[FloatArray, FloatArray]:
    """Aligned reference and tested trace; all NaN where none are kept."""
    if pair.reference_trace and pair.tested_trace:
        return pair.traces
    nothing = np.full(pair.part.seconds, np.nan)
    return nothing, nothing


def report_of(pair: Pair, epochs: Sequence[int], *, with_lag: bool = True) -> ReportedPair:
    """Report a pair at some lengths of an epoch.

    Parameters
    ----------
    pair : Pair
        One of ``pairs_of``.
    epochs : sequence of int
        Seconds of the epochs wanted; those too long for the pair are left out.
    with_lag : bool
        Whether to look for the lag, which takes longer than all the rest.
    """
    reference, tested = traces_of(pair)
    physiology = pair.owner.physiology().on(pair.part.workout.day)
    flagged = flagged_of(pair)
    report = None
    if int(np.isfinite(reference).sum()) > 1:
        report = dataclasses.replace(
            _report(reference, tested, physiology, epochs),
            reference_faults=_shares(flagged, "reference", pair.part.seconds),
            tested_faults=_shares(flagged, "tested", pair.part.seconds),
        )
    late = lag(reference, tested) if with_lag and report and clocks_agree(pair) else None
    recovery = recovery_of_pairs([pair])[0]
    return ReportedPair(pair, reference, tested, report, physiology, flagged, late, recovery)


def recovery_of_pairs(pairs: Sequence[Pair]) -> list[RecoveryDifference | None]:
    """Difference in recovery hours of each pair of one athlete; None where it cannot be told."""
    if not pairs:
        return []
    athlete, days = pairs[0].owner, [pair.part.workout.day for pair in pairs]
    physiology_on = physiology_by_day(athlete)
    usual = usual_daily_loads(athlete, Measure.TRIMP, min(days), max(days))
    return [
        _recovery(pair, physiology_on(day), usual.get(monday_of(day)))
        for pair, day in zip(pairs, days, strict=True)
    ]


def _recovery(
    pair: Pair, physiology: PhysiologyDraws | None, usual: FloatArray | None
) -> RecoveryDifference | None:
    reference, tested = pair.histograms
    if physiology is None or physiology.central_load(reference) < LEAST_LOAD:
        return None
    return recovery_difference(reference, tested, usual, physiology)


def clocks_agree(pair: Pair) -> bool:
    """Whether both recordings say that their clock was set by network or satellites."""
    return {pair.reference.clock, pair.tested.clock} == {Clock.SYNCHRONISED.value}


def flagged_of(pair: Pair) -> list[Flagged]:
    """Flagged stretches of both recordings, the tested one's moved like its trace."""
    return flagged_of_pairs([pair])[pair.pk]


def flagged_of_pairs(pairs: Sequence[Pair]) -> dict[int, list[Flagged]]:
    """Flagged stretches of each pair by its primary key, as ``flagged_of`` gives them."""
    rows = Stretch.objects.filter(part__in={pair.part_id for pair in pairs})
    flags = {
        (row.part_id, row.recording_id): row.flags for row in rows.only("part_id", "recording_id", "flags")
    }
    return {
        pair.pk: _on_the_clock_of(
            pair,
            flags.get((pair.part_id, pair.reference_id), ()),
            flags.get((pair.part_id, pair.tested_id), ()),
        )
        for pair in pairs
    }


def _on_the_clock_of(pair: Pair, reference: Iterable[Any], tested: Iterable[Any]) -> list[Flagged]:
    middle = (pair.part.seconds - 1) / 2

    def of_part(second: float) -> float:
        """The second of the part that a second of the tested sensor's clock is."""
        return second - pair.shift - pair.shift_drift * (second - middle) / 3600

    return [Flagged("reference", begins, ends, str(reason)) for begins, ends, reason in reference] + [
        Flagged("tested", of_part(begins), of_part(ends), str(reason)) for begins, ends, reason in tested
    ]


def second_by_second(pair: Pair) -> Iterator[tuple[int, float, float, str, str]]:
    """Second, reference and tested rate in bpm (NaN where not common), and the flags of each."""
    reference, tested = traces_of(pair)
    marks: dict[str, list[list[str]]] = {role: [[] for _ in reference] for role in ("reference", "tested")}
    for stretch in flagged_of(pair):
        for second in range(max(round(stretch.begins), 0), min(round(stretch.ends), len(reference))):
            marks[stretch.role][second].append(stretch.reason)
    for second, (x, y) in enumerate(zip(reference.tolist(), tested.tolist(), strict=True)):
        yield second, x, y, " ".join(marks["reference"][second]), " ".join(marks["tested"][second])


def _report(
    reference: FloatArray, tested: FloatArray, physiology: Physiology | None, epochs: Sequence[int]
) -> PairReport:
    if physiology is None:
        return PairReport(_by_epoch(reference, tested, epochs), [], [], math.nan, {}, {})
    return report_pair(
        reference,
        tested,
        resting=physiology.resting_rate,
        maximum=physiology.maximum_rate,
        weighting=physiology.load_weighting,
        epochs=epochs,
    )


def _by_epoch(reference: FloatArray, tested: FloatArray, epochs: Sequence[int]) -> dict[int, Agreement]:
    found = {}
    for seconds in epochs:
        try:
            found[seconds] = agree(reference, tested, epoch_seconds=seconds)
        except ValueError:  # fewer than two epochs are common
            continue
    return found


def _shares(flagged: Sequence[Flagged], role: str, seconds: int) -> dict[str, float]:
    """Share of the part's time under each reason, by its name; only reasons that hold anywhere."""
    shares: dict[str, float] = {}
    for one in flagged:
        if one.role == role:
            shares[one.reason] = shares.get(one.reason, 0.0) + (one.ends - one.begins) / max(seconds, 1)
    return shares
