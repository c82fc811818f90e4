"""How well shifts are found, on invented pairs and on real sessions with known shifts injected.

    .venv/bin/python -m benchmarks.alignment            # 300 invented pairs
    .venv/bin/python -m benchmarks.alignment 60

Invented pairs are cut from longer recordings, so the ends tell nothing. In the real sessions (the folder
named by TRAINLOG_SHARED, by default ../shared) the sensors' own lag is not known: a found shift is compared
with the median of the same session's. Pieces of them are compared with the whole session. Seeds are fixed,
and are not those on which the rules were made.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from accuracy.core.agreement.differences import pearson_r
from accuracy.core.evaluation.study_data import sessions
from accuracy.core.traces.align import estimate_shift, shifted
from accuracy.core.traces.artefacts import Reason
from accuracy.core.traces.simulate_traces import WORKS, SimulatedPair, simulate_pair
from trainlog.trace import FloatArray

MARGIN = 140
INJECTED = (-60, -45.5, -31, -20, -12.3, -7, -4, 4, 7.5, 12, 20, 31.7, 45.5, 60)
FOLDER = Path(os.environ.get("TRAINLOG_SHARED", "../shared")) / "data" / "one_athlete_many_sessions"


@dataclass(frozen=True)
class Outcome:
    """One shift: what it belongs to, the traces' correlation once aligned, error, confidence."""

    group: str
    correlation: float
    error: float
    ambiguous: bool
    uncertainty: float


def invented(count: int, seed: int = 0) -> list[Outcome]:
    """Shifts of up to a minute on pairs of 25 to 75 minutes and all kinds of work and error."""
    outcomes = []
    for number in range(count):
        rng = np.random.default_rng((seed, number))
        work = WORKS[number % len(WORKS)]
        pair = simulate_pair(
            rng,
            seconds=int(rng.integers(1500, 4500)) + 2 * MARGIN,
            work=work,
            error_sd=float(rng.choice([1, 2, 3, 5, 8])),
            error_memory=float(rng.choice([5, 10, 20])),
        )
        outcomes.append(_outcome(work, pair, pair.tested, float(rng.uniform(-60, 60))))
    return outcomes


def spoiled(count: int, seed: int = 1) -> list[Outcome]:
    """The same with one trace wrong for half the session, with drop-outs, and with nothing in common."""
    outcomes = []
    for number in range(count):
        rng = np.random.default_rng((seed, number))
        work = WORKS[number % len(WORKS)]
        pair = simulate_pair(rng, seconds=2400 + 2 * MARGIN, work=work)
        other = simulate_pair(rng, seconds=2400 + 2 * MARGIN, work=work)
        shift, half = float(rng.uniform(-60, 60)), len(pair.tested) // 2
        wrong, locked, gappy = pair.tested.copy(), pair.tested.copy(), pair.tested.copy()
        wrong[half:] = other.tested[half:]
        locked[half:] = pair.cadence[half:]
        for start in rng.integers(0, len(gappy) - 120, 8):
            gappy[start : start + rng.integers(30, 120)] = np.nan
        outcomes += [
            _outcome("half of another session", pair, wrong, shift),
            _outcome("half at the step rate", pair, locked, shift),
            _outcome("eight drop-outs", pair, gappy, shift),
            _outcome("nothing in common", pair, other.tested, shift),
        ]
    return outcomes


def short(count: int, seed: int = 3) -> list[Outcome]:
    """Sessions of 3 to 15 minutes from their first second, sound and spoiled.

    The start is a rise from rest, which a sensor that locks on late puts at another moment.
    """
    outcomes = []
    for number in range(count):
        rng = np.random.default_rng((seed, number))
        work, seconds = WORKS[number % len(WORKS)], int(rng.integers(180, 900))
        error_sd = float(rng.choice([1, 2, 3, 5]))
        first = simulate_pair(rng, seconds=seconds + MARGIN, work=work, error_sd=error_sd)
        late = simulate_pair(rng, seconds=seconds + MARGIN, work=work, faults=(Reason.BEFORE_LOCK_ON,))
        shift, half = float(rng.uniform(-60, 60)), seconds // 2
        wrong, locked = first.tested.copy(), first.tested.copy()
        wrong[half:], locked[half:] = late.reference[half:], first.cadence[half:]
        outcomes += [
            _from_start("short", first, first.tested, shift, seconds),
            _from_start("short, late lock-on", late, late.tested, shift, seconds),
            _from_start("short, half of another", first, wrong, shift, seconds),
            _from_start("short, half at the step rate", first, locked, shift, seconds),
            _from_start("short, nothing in common", first, late.tested, shift, seconds),
        ]
    return outcomes


def windows(folder: Path, seconds: int) -> list[Outcome]:
    """Pieces of the real sessions that are aligned as a whole, against the shift of the whole."""
    outcomes = []
    for session in sessions(folder):
        reference, tested = session.at_whole_seconds()
        whole = estimate_shift(reference, tested)
        if whole.ambiguous:
            continue
        for start in range(0, len(reference) - seconds, seconds // 2):
            there = slice(start, start + seconds)
            found = estimate_shift(reference[there], tested[there])
            correlation = pearson_r(reference[there], shifted(tested, -whole.seconds)[there])
            error = found.seconds - whole.seconds
            name = f"{seconds // 60} min of a session"
            outcomes.append(Outcome(name, correlation, error, found.ambiguous, found.uncertainty))
    return outcomes


def _from_start(group: str, pair: SimulatedPair, tested: FloatArray, shift: float, seconds: int) -> Outcome:
    inside = slice(0, seconds)
    found = estimate_shift(pair.reference[inside], shifted(tested, shift)[inside])
    correlation = pearson_r(pair.reference[inside], tested[inside])
    return Outcome(group, correlation, found.seconds - shift, found.ambiguous, found.uncertainty)


def drifting(count: int, seed: int = 2) -> dict[str, float]:
    """Sessions of one to three hours whose tested clock drifts by up to 8 s an hour, and as many without.

    Returns
    -------
    dict of str to float
        Share of drifts found that add up to more than 4 s, and of all; root mean squared error of those
        used, s/h; share found where there is none.
    """
    used, large, errors, false = [], [], [], []
    for number in range(count):
        rng = np.random.default_rng((seed, number))
        seconds = int(rng.integers(3600, 10800))
        pair = simulate_pair(rng, seconds=seconds + 2 * MARGIN, work=WORKS[number % len(WORKS)])
        rate, shift = float(rng.uniform(-8, 8)), float(rng.uniform(-40, 40))
        inside, middle = slice(MARGIN, -MARGIN), (seconds - 1) / 2
        at = (np.arange(seconds) - middle - shift) / (1 + rate / 3600) + middle + MARGIN
        late = np.interp(at, np.arange(len(pair.tested)), pair.tested)
        found = estimate_shift(pair.reference[inside], late)
        used.append(found.drift != 0)
        large.append(abs(rate) * seconds / 3600 > 4)
        errors.append(found.drift - rate)
        steady = estimate_shift(pair.reference[inside], shifted(pair.tested, shift)[inside])
        false.append(steady.drift != 0)
    found_at = np.array(used)
    return {
        "found over 4 s": float(found_at[np.array(large)].mean()),
        "found": float(found_at.mean()),
        "rms error s/h": float(np.sqrt(np.mean(np.array(errors)[found_at] ** 2))),
        "found where none is": float(np.mean(false)),
    }


def _outcome(group: str, pair: SimulatedPair, tested: FloatArray, shift: float) -> Outcome:
    inside = slice(MARGIN, -MARGIN)
    found = estimate_shift(pair.reference[inside], shifted(tested, shift)[inside])
    correlation = pearson_r(pair.reference[inside], tested[inside])
    return Outcome(group, correlation, found.seconds - shift, found.ambiguous, found.uncertainty)


def real(folder: Path) -> list[Outcome]:
    """Shifts injected into every real session."""
    outcomes = []
    for session in sessions(folder):
        reference, tested = session.at_whole_seconds()
        found = [estimate_shift(reference, shifted(tested, shift)) for shift in INJECTED]
        lags = [shift.seconds - by for shift, by in zip(found, INJECTED, strict=True) if not shift.ambiguous]
        own = float(np.median(lags)) if lags else 0.0
        correlation = max(pearson_r(reference, shifted(tested, -lag)) for lag in range(-8, 9))
        length = "" if len(reference) >= 480 else ", under 8 min"
        outcomes += [
            Outcome(
                f"session {session.session}{length}",
                correlation,
                shift.seconds - by - own,
                shift.ambiguous,
                shift.uncertainty,
            )
            for shift, by in zip(found, INJECTED, strict=True)
        ]
    return outcomes


def summary(outcomes: Iterable[Outcome]) -> dict[str, float]:
    """Shares of confident, within 1 s, and wrong (by more than 2 s) and confident; coverage of 2 errors."""
    rows = list(outcomes)
    sure = np.array([not row.ambiguous for row in rows])
    error = np.abs([row.error for row in rows])
    covered = error <= 2 * np.array([row.uncertainty for row in rows])
    return {
        "shifts": len(rows),
        "confident": float(sure.mean()),
        "within 1 s": float((sure & (error <= 1)).mean()),
        "wrong, confident": float((sure & (error > 2)).mean()),
        "in 2 std. errors": float(covered[sure].mean()) if sure.any() else float("nan"),
    }


def _show(title: str, outcomes: list[Outcome]) -> None:
    groups = {"r > 0.9": [row for row in outcomes if row.correlation > 0.9]}
    groups["r <= 0.9"] = [row for row in outcomes if row.correlation <= 0.9]
    groups |= {
        name: [row for row in outcomes if row.group == name]
        for name in dict.fromkeys(r.group for r in outcomes)
    }
    print(f"\n{title}")
    for name, rows in groups.items():
        if rows:
            figures = summary(rows)
            print(f"  {name:29}" + "".join(f"{k}: {v:<8.3g}" for k, v in figures.items()))


def main() -> None:
    """Print the tables."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    _show("Invented pairs", invented(count))
    _show("Invented pairs, spoiled", spoiled(count // 5))
    _show("Invented pairs of 3 to 15 minutes, sound and spoiled", short(count // 3))
    print("\nDrifting clocks")
    print("  " + "".join(f"{k}: {v:<8.3g}" for k, v in drifting(count // 5).items()))
    if FOLDER.is_dir():
        _show("Real sessions", real(FOLDER))
        _show("Pieces of real sessions", windows(FOLDER, 240) + windows(FOLDER, 480) + windows(FOLDER, 960))


if __name__ == "__main__":
    main()
