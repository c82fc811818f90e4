"""From two recordings of one part to a pair: cut what the reference got wrong, align, keep common seconds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from accuracy.core.traces.align import Shift, estimate_shift, moved, no_shift, shifted
from accuracy.core.traces.artefacts import INFORMATION_ONLY, MEANINGS, Flags, Reason, flag, untrustworthy
from accuracy.core.traces.step_rate import lock_confirmed
from trainlog.trace import FloatArray

LEAST_COMMON_SHARE = 0.8
"""Share of a part's seconds valid in both traces, below which the pair is set aside
(common practice, no source)."""


@dataclass(frozen=True, eq=False)
class PairedTraces:
    """Reference and tested trace of one part over their common seconds.

    Attributes
    ----------
    reference, tested : array, shape (seconds,)
        Heart rate in bpm on the reference's seconds; NaN in both where either is missing or cut.
    shift : Shift
        How late the tested trace ran before it was moved, drift of its clock included.
    common_seconds : int
        Seconds valid in both.
    common_share : float
        Of the part's length, 0 to 1.
    usable : bool
        False if the pair is set aside.
    why_not : str
        One sentence on why it is set aside; empty if it is usable.
    reasons : tuple of str
        Sentences on what was cut, moved or noticed.
    reference_flags, tested_flags : Flags
        Each judged from its own trace, on its own clock. The tested trace's are information: what the
        tested sensor got wrong is what is to be learned, and is never cut.
    step_rate_locks : tuple of (int, int, bool)
        Stretches of the tested trace, on its own clock, at the step rate or near it: first second, first
        second after, and whether the reference departs there.
    """

    reference: FloatArray
    tested: FloatArray
    shift: Shift
    common_seconds: int
    common_share: float
    usable: bool
    why_not: str
    reasons: tuple[str, ...]
    reference_flags: Flags
    tested_flags: Flags
    step_rate_locks: tuple[tuple[int, int, bool], ...] = ()


def pair_up(
    reference_hr: FloatArray,
    tested_hr: FloatArray,
    *,
    cadence: FloatArray | None = None,
    clocks_synchronised: bool,
) -> PairedTraces:
    """Pair an electrical reference with a tested optical trace of the same part.

    Parameters
    ----------
    reference_hr, tested_hr : array, shape (seconds,)
        Heart rate in bpm on the part's nominal 1 Hz grid, NaN for gaps.
    cadence : array, shape (seconds,), optional
        Steps or strides a minute on the tested sensor's seconds: only to notice a lock on the step rate.
    clocks_synchronised : bool
        True if both recordings were made by one clock; then nothing is moved.

    Returns
    -------
    PairedTraces
        Usable or set aside, with reasons either way.

    Raises
    ------
    ValueError
        If the arrays differ in length or are empty.
    """
    seconds = len(reference_hr)
    if seconds == 0 or len(tested_hr) != seconds:
        raise ValueError("a pair needs two traces with as many seconds each, and at least one")
    reference_flags = flag(reference_hr, principle="electrical")
    tested_flags = flag(tested_hr, principle="optical", cadence=cadence)
    cut = untrustworthy(reference_flags)
    reference = np.where(cut, np.nan, reference_hr)
    shift = no_shift() if clocks_synchronised else estimate_shift(reference, tested_hr)
    tested = moved(tested_hr, shift)
    locks = tuple(lock_confirmed(tested_flags, shifted(reference, shift.seconds), tested_hr))
    both = np.isfinite(reference) & np.isfinite(tested)
    common = int(both.sum())
    share = common / seconds
    usable = share >= LEAST_COMMON_SHARE
    why_not = "" if usable else f"Only {_percent(share)} of the part is valid in both traces."
    return PairedTraces(
        reference=np.where(both, reference, np.nan),
        tested=np.where(both, tested, np.nan),
        shift=shift,
        common_seconds=common,
        common_share=share,
        usable=usable,
        why_not=why_not,
        reasons=(*_sentences(reference_flags, tested_flags, tested_hr), *_of_locks(locks), shift.reason),
        reference_flags=reference_flags,
        tested_flags=tested_flags,
        step_rate_locks=locks,
    )


def _sentences(reference_flags: Flags, tested_flags: Flags, tested_hr: FloatArray) -> list[str]:
    """Say what was cut or noticed, one sentence each."""
    found = [
        f"Reference: {seconds} s cut ({MEANINGS[reason]})."
        for reason in Reason
        if (seconds := int(reference_flags.has(reason).sum())) and reason not in INFORMATION_ONLY
    ]
    missing = int(np.isnan(tested_hr).sum())
    if missing:
        found.append(f"Tested: {missing} s without a reading.")
    found += [
        f"Tested: {seconds} s noticed and kept ({MEANINGS[reason]})."
        for reason in Reason
        if reason is not Reason.DROP_OUT and (seconds := int(tested_flags.has(reason).sum()))
    ]
    return found


def _of_locks(locks: tuple[tuple[int, int, bool], ...]) -> list[str]:
    """Say what the reference makes of a tested sensor at the step rate."""
    seconds = sum(end - start for start, end, confirmed in locks if confirmed)
    if not locks:
        return []
    if not seconds:
        return ["Tested: at the step rate, and the reference agrees."]
    return [f"Tested: {seconds} s at the step rate while the reference departs."]


def _percent(share: float) -> str:
    """Whole percent, rounded down so that a share below a limit never reads as the limit."""
    return f"{int(share * 100)}%"
