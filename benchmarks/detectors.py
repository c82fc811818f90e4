"""Precision and recall of the artefact detectors, by stretch, on invented sessions whose faults are known.

    .venv/bin/python -m benchmarks.detectors            # 300 sessions a row
    .venv/bin/python -m benchmarks.detectors 60

A fault is found if at least half of its seconds are flagged for its reason; a flagged stretch (gaps up to
ten seconds closed) is right if at least half of it lies in faults of that reason. A fault of the start or a
lock on the step rate need only be found where the reading departs from the heart by more than 5 bpm and 10%
in most of its seconds: elsewhere it reads right by luck. Seeds are fixed, and
are not those the detectors were made on; the invented faults are ours all the same.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from accuracy.core.traces.artefacts import Flags, Reason, flag
from accuracy.core.traces.detectors import BoolArray
from accuracy.core.traces.simulate_traces import WORKS, Fault, SimulatedPair, Work, simulate_pair, wander
from accuracy.core.traces.step_rate import closed_runs, departs, lock_confirmed

FAULTS = (Reason.DROP_OUT, Reason.FLAT_LINE, Reason.BEFORE_LOCK_ON, Reason.STEP_RATE_LOCK)
NEARLY_CONSTANT, VARYING = 0.6, 2.5


@dataclass(frozen=True)
class Score:
    """Faults found of all, right stretches of all flagged, and the seconds judged."""

    found: int
    faults: int
    right: int
    flagged: int
    seconds: int

    @property
    def recall(self) -> float:
        """Share of the faults that were found."""
        return self.found / self.faults if self.faults else float("nan")

    @property
    def precision(self) -> float:
        """Share of the flagged stretches that are right."""
        return self.right / self.flagged if self.flagged else float("nan")


def simulated(count: int, cadence_sd: float = VARYING, seed: int = 0) -> list[SimulatedPair]:
    """Sessions of every kind of work; each fault is in a random half of them."""
    pairs = []
    for number in range(count):
        rng = np.random.default_rng((seed, number))
        faults = tuple(reason for reason in FAULTS if rng.random() < 0.5)
        pairs.append(
            simulate_pair(
                rng, seconds=3600, work=WORKS[number % len(WORKS)], cadence_sd=cadence_sd, faults=faults
            )
        )
    return pairs


def flags_of(pair: SimulatedPair) -> Flags:
    """Flags of the tested trace."""
    return flag(pair.tested, principle="optical", cadence=pair.cadence)


def score(
    pairs: Sequence[SimulatedPair],
    reason: Reason,
    marks: Callable[[SimulatedPair, Flags], BoolArray] | None = None,
) -> Score:
    """Judge one reason over all sessions; ``marks`` replaces the seconds flagged for it."""
    found = faults = right = flagged = seconds = 0
    for pair in pairs:
        flags = flags_of(pair)
        marked = flags.has(reason) if marks is None else marks(pair, flags)
        true = np.zeros(len(marked), dtype=bool)
        for fault in pair.faults:
            if fault.reason is not reason:
                continue
            true[fault.start : fault.end] = True
            if _must_be_found(fault, pair):
                faults += 1
                found += bool(marked[fault.start : fault.end].mean() >= 0.5)
        stretches = closed_runs(marked)
        flagged += len(stretches)
        right += sum(bool(true[start:end].mean() >= 0.5) for start, end in stretches)
        seconds += len(marked)
    return Score(found, faults, right, flagged, seconds)


def at_step_rate(pair: SimulatedPair, flags: Flags) -> BoolArray:
    """Locked or near, without a reference."""
    return flags.at_step_rate()


def confirmed(pair: SimulatedPair, flags: Flags) -> BoolArray:
    """Locked or near, and the reference departs."""
    mask = np.zeros(len(flags.codes), dtype=bool)
    for start, end, departed in lock_confirmed(flags, pair.reference, pair.tested):
        mask[start:end] = departed
    return mask


def flagged_though_at_rest(count: int, seed: int = 12) -> dict[Work, tuple[int, int]]:
    """Sessions whose heart rests for 40 to 200 s and then rises, and in how many a lock-on is suspected.

    Returns
    -------
    dict of str to (int, int)
        Flagged sessions, and sessions, by kind of work.
    """
    found: dict[Work, tuple[int, int]] = {}
    for number in range(count):
        rng = np.random.default_rng((seed, number))
        work = WORKS[number % len(WORKS)]
        tested = simulate_pair(rng, seconds=3600, work=work).tested
        at_rest, time_constant = int(rng.integers(40, 200)), float(rng.uniform(20, 40))
        rest = rng.uniform(60, 85) + wander(rng, len(tested), 1.8, 12.0)
        share = np.exp(-np.maximum(np.arange(len(tested)) - at_rest, 0) / time_constant)
        flags = flag(np.round((1 - share) * tested + share * rest), principle="optical")
        flagged, sessions = found.get(work, (0, 0))
        found[work] = (flagged + bool(flags.has(Reason.BEFORE_LOCK_ON).any()), sessions + 1)
    return found


def _must_be_found(fault: Fault, pair: SimulatedPair) -> bool:
    if fault.reason in (Reason.DROP_OUT, Reason.FLAT_LINE):
        return True
    there = slice(fault.start, fault.end)
    return bool(departs(pair.reference[there], pair.tested[there]).mean() > 0.5)


def table(count: int) -> list[tuple[str, Score]]:
    """Every row: what was looked for, and how it went."""
    varying, constant = simulated(count, seed=10), simulated(count, NEARLY_CONSTANT, seed=11)
    lock = Reason.STEP_RATE_LOCK
    return [
        ("drop-out", score(varying, Reason.DROP_OUT)),
        ("flat line", score(varying, Reason.FLAT_LINE)),
        ("before lock-on", score(varying, Reason.BEFORE_LOCK_ON)),
        *(
            (
                f"before lock-on, {work}",
                score([p for i, p in enumerate(varying) if WORKS[i % 3] == work], Reason.BEFORE_LOCK_ON),
            )
            for work in WORKS
        ),
        ("step-rate lock, no reference", score(varying, lock)),
        ("  locked or near, no reference", score(varying, lock, at_step_rate)),
        ("  locked or near, confirmed by the reference", score(varying, lock, confirmed)),
        ("step-rate lock, cadence nearly constant, no reference", score(constant, lock)),
        ("  locked or near, no reference", score(constant, lock, at_step_rate)),
        ("  locked or near, confirmed by the reference", score(constant, lock, confirmed)),
    ]


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    print(f"{'by stretch, ' + str(count) + ' invented hours a row':56}{'precision':>18}{'recall':>18}")
    for name, row in table(count):
        precision = f"{row.precision:.2f} ({row.right}/{row.flagged})"
        recall = f"{row.recall:.2f} ({row.found}/{row.faults})"
        print(f"{name:56}{precision:>18}{recall:>18}")
    print("\nbefore lock-on suspected where the heart itself rests first and then rises:")
    for work, (flagged, sessions) in flagged_though_at_rest(count).items():
        print(f"  {work:20}{flagged} of {sessions}")


if __name__ == "__main__":
    main()
