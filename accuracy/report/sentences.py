"""The summary of a report, written from the numbers by rules, the most important first.

Every rule says what was found in these sessions and no more: what it means for another person, another
sensor of the same make or other work is not in the numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from accuracy.report.findings import Correction, Estimate, Fault, Findings, HeartRate, Load, LockOn, Work
from accuracy.services.wording import counted
from trainlog.web.words import clock, signed

FEW_SESSIONS = 10
"""Sessions below which the summary warns that limits may move far with more of them (ours)."""

LEAST_FOR_LIMITS = 3
"""Sessions below which no limits are given: how sessions differ cannot be told (ours)."""

LEAST_IN_WORK = 3
"""Sessions of a kind of work below which it is not compared with others (ours)."""

LATE_SECONDS = 120
"""Seconds after which a lock-on is called late (a sensor may need some minutes: common practice)."""

MOST_FAULTS = 2
"""Kinds of fault that the summary names."""


def summary(found: Findings) -> tuple[str, ...]:
    """Write the summary of one sensor.

    Parameters
    ----------
    found : Findings

    Returns
    -------
    tuple of str
        Sentences or short paragraphs; each that gives a figure names its sample. With no session only what is
        missing is said.
    """
    if not found.sessions:
        return (_nothing(found),)
    return tuple(_all(found))


def _all(found: Findings) -> Iterator[str]:
    yield _sample(found)
    if found.heart_rate:
        yield _bias(found, found.heart_rate)
        yield _error(found, found.heart_rate)
        if change := _with_rate(found.heart_rate):
            yield change
    yield _load(found.load) if found.load else _no_load(found)
    if differs := by_work(found.work):
        yield differs
    if found.lock_on and found.lock_on.sessions:
        yield _lock_on(found.lock_on)
    yield _faults(found)
    yield _correction(found.correction) if found.correction else _no_correction(found)
    yield _limits(found)


def these(sessions: int) -> str:
    """How the sample is named: "this 1 session of one person", "these 7 sessions of one person"."""
    return f"{'this' if sessions == 1 else 'these'} {counted(sessions, 'session')} of one person"


def _nothing(found: Findings) -> str:
    aside = f" {_aside(found.set_aside)}" if found.set_aside else ""
    return (
        f"{found.sensor} has 0 sessions that can be compared with a reference, so this report holds no "
        f"figure of its agreement.{aside}"
    )


def _aside(count: int) -> str:
    was = "was" if count == 1 else "were"
    return f"{counted(count, 'pair')} of recordings {was} set aside and listed with the reason."


def _sample(found: Findings) -> str:
    named = listed([f"{name} {count}" for name, count in found.activities])
    kinds = f" ({named})" if named else ""
    span = ""
    if found.days:
        first, last = found.days
        span = f" on {first}" if first == last else f" from {first} to {last}"
    aside = f" {_aside(found.set_aside)}" if found.set_aside else ""
    return (
        f"{found.sensor} was compared with a chest strap in {counted(found.sessions, 'session')} of one "
        f"person{span}: {amount(found.hours, 'h')} in which both gave a reading{kinds}.{aside}"
    )


def _bias(found: Findings, rate: HeartRate) -> str:
    begins = f"In {these(found.sessions)} the sensor {reads(rate.bias.value)} on average"
    bias = f"{begins}{within(rate.bias, 'bpm')}."
    if rate.lower is None or rate.upper is None:
        return f"{bias} {_no_limits(found.sessions)}"
    limits = (
        f"95% of its differences from the strap, as means of 5 s, are expected between "
        f"{signed(rate.lower.value)} and {signed(rate.upper.value)} bpm (limits of agreement for repeated "
        "measures)"
    )
    if rate.lower.known and rate.upper.known:
        limits += (
            f"; the lower limit may lie anywhere from {between(rate.lower)} bpm and the upper from "
            f"{between(rate.upper)} bpm (95% intervals over sessions)"
        )
    return f"{bias} {limits}."


def _no_limits(sessions: int) -> str:
    why = "one session says" if sessions == 1 else f"{sessions} sessions say"
    return f"No limits of agreement are given: {why} too little of how sessions differ."


def _error(found: Findings, rate: HeartRate) -> str:
    absolute, share = rate.mean_absolute_error, rate.mean_absolute_percentage_error
    interval = f" (95% interval {between(share, sign=False)}%)" if share.known else ""
    return (
        f"Whichever way it erred, the mean absolute error in {these(found.sessions)} was "
        f"{absolute.value:.1f} bpm, and the mean absolute percentage error {share.value:.1f}%{interval}."
    )


def _with_rate(rate: HeartRate) -> str:
    change = rate.changes_with_rate
    if change is None or change.low is None or change.high is None or change.low <= 0 <= change.high:
        return ""
    falls = "falls" if change.value < 0 else "rises"
    return (
        f"The bias {falls} by {abs(change.value):.1f} bpm for every 10 bpm of heart rate (95% interval "
        f"{between(change)}): one pair of limits does not describe all intensities alike."
    )


def _load(load: Load) -> str:
    if load.sessions == 1:
        return (
            f"The training load of the 1 session that has one {reads_load(load.mean.value)} (Banister's "
            "training impulse over the common seconds)."
        )
    interval = f" (95% interval {between(load.mean, digits=0)}%)" if load.mean.known else ""
    return (
        f"The training load {reads_load(load.mean.value)} on average{interval} over "
        f"{counted(load.sessions, 'session')}; the single ones lie between {off(load.lowest)} and "
        f"{off(load.highest)} the strap's (Banister's training impulse over the common seconds)."
    )


def _no_load(found: Findings) -> str:
    return (
        f"No training load is compared over {these(found.sessions)}: it needs the person's resting and "
        "maximum heart rate, and work hard enough to make one."
    )


def by_work(work: Sequence[Work]) -> str:
    """Sentence on the kinds of work that lie furthest apart in load and in bias.

    They are said to differ only where their 95% intervals do not meet, which asks for more than a test of the
    two would: the furthest of several lie apart by chance too.
    """
    known = [one for one in work if one.sessions >= LEAST_IN_WORK]
    loads = [(one, one.load) for one in known if one.load is not None and one.load.known]
    biases = [(one, one.bias) for one in known if one.bias.known]
    said = [
        _apart(pair, what, unit, digits)
        for found, what, unit, digits in ((loads, "load", "%", 0), (biases, "heart rate", " bpm", 1))
        if (pair := _furthest(found))
    ]
    if said:
        return f"It depends on the work. {' '.join(said)}"
    if len(known) < 2 or not (len(loads) > 1 or len(biases) > 1):
        return ""
    named = listed([f"{one.activity} ({one.sessions} sessions)" for one in known])
    return (
        f"Between {named} no difference is shown: even of the two that lie furthest apart the 95% intervals "
        "over sessions meet."
    )


def _furthest(found: Sequence[tuple[Work, Estimate]]) -> tuple[tuple[Work, Estimate], ...]:
    """Lowest and highest kind of work, where their intervals do not meet; else nothing."""
    if len(found) < 2:
        return ()
    low, high = min(found, key=lambda one: one[1].value), max(found, key=lambda one: one[1].value)
    if low[1].high is None or high[1].low is None or low[1].high >= high[1].low:
        return ()
    return low, high


def _apart(pair: Sequence[tuple[Work, Estimate]], what: str, unit: str, digits: int) -> str:
    named = [
        f"{signed(own.value, digits)}{unit} in {counted(one.sessions, 'session')} of {one.activity} (95% "
        f"interval {between(own, digits=digits)}{unit})"
        for one, own in pair
    ]
    return f"The mean difference in {what} was {named[0]} and {named[1]}."


def _lock_on(found: LockOn) -> str:
    starts = "1 start of a session" if found.sessions == 1 else f"{found.sessions} starts of sessions"
    if found.middle is None or found.longest is None:
        return f"At {starts} the sensor never stayed within 10% or 5 bpm of the strap for 30 s on end."
    if found.sessions == 1:
        return f"At {starts} the sensor had locked on after {clock(found.middle)} min."
    locked = found.sessions - found.never
    begins = f"At all {starts}" if not found.never else f"At {locked} of {starts}"
    said = (
        f"{begins} the sensor locked on, half of the times within {clock(found.middle)} min and at the "
        f"latest after {clock(found.longest)} min"
    )
    if found.late:
        said += f"; in {found.late} it took more than two minutes"
    if found.never:
        said += f"; in {found.never} it never locked on"
    return said + "."


def _faults(found: Findings) -> str:
    if found.far_off:
        where = in_sessions(found.far_off.sessions, found.sessions)
        said = [
            f"{where[:1].upper()}{where[1:]} the sensor was off by more than 10% and 5 bpm for a minute or "
            f"longer, {amount(found.far_off.minutes, 'min')} in all."
        ]
    else:
        said = [
            f"Over {counted(found.sessions, 'session')} the sensor was never off by more than 10% and 5 bpm "
            "for a minute or longer."
        ]
    if found.faults:
        worst = "; ".join(_fault(one, found) for one in _worst(found.faults))
        said.append(f"What was flagged longest in its own trace: {worst}.")
    if found.reference_faults:
        worst = "; ".join(_fault(one, found) for one in _worst(found.reference_faults))
        said.append(f"The strap had faults too, which are cut from both traces: {worst}.")
    return " ".join(said)


def in_sessions(count: int, of: int) -> str:
    """How many sessions of the sample: "in 3 of 7 sessions", "in the 1 session"."""
    return "in the 1 session" if of == 1 else f"in {count} of {of} sessions"


def _worst(faults: Sequence[Fault]) -> list[Fault]:
    return sorted(faults, key=lambda one: -one.minutes)[:MOST_FAULTS]


def _fault(one: Fault, found: Findings) -> str:
    return f"{one.meaning} ({amount(one.minutes, 'min')}, {in_sessions(one.sessions, found.sessions)})"


def _correction(found: Correction) -> str:
    pairs = f"{found.pairs} held-out pairs" if found.pairs > 1 else "the 1 held-out pair"
    change = (
        f"fell from {found.as_it_stands:.1f}% to {found.corrected:.1f}%"
        if round(found.as_it_stands, 1) > round(found.corrected, 1)
        else f"did not fall: {found.as_it_stands:.1f}% as it stands, {found.corrected:.1f}% corrected"
    )
    return (
        f"Corrected by what other sessions teach, the mean absolute error of the load of {pairs} {change}; "
        f"{found.nearer} of {found.pairs} came nearer to the strap's. Intervals meant to hold 80% held "
        f"{found.held} of {found.pairs}."
    )


def _no_correction(found: Findings) -> str:
    return (
        f"Nothing is said of a correction: {these(found.sessions)} leave no session to hold out and another "
        "to learn from."
    )


def _limits(found: Findings) -> str:
    said = [
        f"All of this is from {counted(found.sessions, 'session')} of one person's own training, not from "
        "set tasks: it does not tell how the sensor reads on somebody else"
    ]
    if found.heart_rate:
        said[0] += (
            f", or at rates outside the {found.heart_rate.lowest:.0f} to {found.heart_rate.highest:.0f} bpm "
            "that were covered"
        )
    said[0] += "."
    if found.sessions < FEW_SESSIONS:
        few = counted(found.sessions, "session")
        said.append(f"With only {few}, one more may move every figure by much.")
    said.append("A chest strap has faults of its own, and those that nobody found count as the sensor's.")
    return " ".join(said)


def reads(bias: float) -> str:
    """What a bias says in words: "read 4.2 bpm lower than the strap"."""
    size = f"{abs(bias):.1f}"
    if size == "0.0":
        return "read as high as the strap"
    return f"read {size} bpm {'higher' if bias > 0 else 'lower'} than the strap"


def reads_load(per_cent: float) -> str:
    """What a difference of loads says: "came out 6% lower than by the strap"."""
    size = f"{abs(per_cent):.0f}"
    if size == "0":
        return "came out the same as by the strap"
    return f"came out {size}% {'higher' if per_cent > 0 else 'lower'} than by the strap"


def off(per_cent: float) -> str:
    """How far a load lies off: "25% below", "9% above"."""
    return f"{abs(per_cent):.0f}% {'below' if per_cent < 0 else 'above'}"


def between(estimate: Estimate, *, digits: int = 1, sign: bool = True) -> str:
    """Both ends of an interval: "−6.0 to −2.4"."""
    ends = [end for end in (estimate.low, estimate.high) if end is not None]
    return " to ".join(signed(end, digits) if sign else f"{end:.{digits}f}" for end in ends)


def within(estimate: Estimate, unit: str) -> str:
    """An interval behind its value, in brackets; empty where it is not known."""
    if not estimate.known:
        return ""
    return f" (mean difference {signed(estimate.value)} {unit}, 95% interval {between(estimate)})"


def amount(value: float, unit: str) -> str:
    """Amount with its unit, whole from ten on: "0.4 min", "23 h"."""
    if not math.isfinite(value):
        return f"an unknown number of {unit}"
    digits = 0 if value >= 9.95 else 1
    return "under 0.1 " + unit if 0 < value < 0.05 else f"{value:.{digits}f} {unit}"


def listed(words: Sequence[str]) -> str:
    """Words with commas and a last "and"."""
    *first, last = words or [""]
    return f"{', '.join(first)} and {last}" if first else last
