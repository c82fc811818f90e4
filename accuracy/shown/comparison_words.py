"""What a comparison of two sensors says, in sentences made from its numbers by rules."""

from __future__ import annotations

import math
from collections.abc import Sequence

from accuracy.core.agreement.paired_differences import FEWEST_SESSIONS, PairedDifference
from accuracy.core.agreement.paired_variances import VarianceRatio
from accuracy.services.compared_sessions import Paired
from accuracy.services.sensor_comparison import WHOLE, Answer, Compared, Way
from accuracy.services.wording import counted
from trainlog.models import Sensor
from trainlog.web.words import DASH

SHOWN_BELOW = 0.05
"""P below which a difference is said to be shown (usual convention)."""

FEWEST_FOR_SIGNS = 6
"""Sessions below which the test of turning signs cannot fall below ``SHOWN_BELOW``: 2 / 2^5 is above it."""


def is_shown(p: float) -> bool:
    """Whether a p value, adjusted where it must be, shows a difference."""
    return not math.isnan(p) and p < SHOWN_BELOW


def verdict(answer: Answer, compared: Compared) -> list[str]:
    """Sentences on which of two sensors came nearer to the reference, and on what that rests.

    Parameters
    ----------
    answer : Answer
    compared : Compared
        One of the answer's.
    """
    first, second, main = compared.first.name, compared.second.name, compared.whole.main
    if not compared.sessions:
        return [_none(answer, compared)]
    basis = _basis(answer.way, compared)
    if not main.has_interval:
        return [
            f"{basis}, the mean absolute error was {main.first:.1f} bpm with {first} and {main.second:.1f} "
            f"bpm with {second}. Fewer than {FEWEST_SESSIONS} sessions give no interval, so nothing can be "
            "said of which is nearer."
        ]
    said = [_main(basis, main, (first, second), shown=is_shown(compared.adjusted[WHOLE]))]
    if answer.whole_looks > 1:
        said.append(f"This counts in that {answer.whole_looks} such questions were asked at once (Holm).")
    if main.sessions < FEWEST_FOR_SIGNS:
        said.append(
            "So few sessions show only a large difference, and the interval takes their differences to be "
            f"spread normally: by turning signs alone, {main.sessions} sessions cannot come below "
            f"p {_p(2 / 2**main.sessions)}."
        )
    said += _steadier(compared.whole.bias_variance, (first, second))
    return said


def cautions(answer: Answer, compared: Compared) -> list[str]:
    """Sentences on what else may be in the difference."""
    said = []
    if answer.way == Way.MATCHED and compared.sessions:
        shared = sum(one.shared for one in compared.sessions)
        said.append(
            "Matched sessions are not one session: whatever else differed between them is in the difference "
            "too. That makes this weaker evidence than wearing both sensors at once, and the intervals do "
            "not show how much weaker."
            + (f" {shared} of the {len(compared.sessions)} were in fact worn together." if shared else "")
        )
    for sensor, days in (
        (compared.first, [one.first_workout.day for one in compared.sessions]),
        (compared.second, [one.second_workout.day for one in compared.sessions]),
    ):
        versions = sorted({sensor.firmware_on(day) for day in days} - {""})
        if len(versions) > 1:
            said.append(
                f"{sensor.name} ran firmware {' and '.join(versions)} in these sessions, taken as one."
            )
    return said


def adjusted_in_words(answer: Answer) -> str:
    """Sentence on which p values are adjusted for how many there are."""
    if answer.activity_looks > 1:
        return (
            f"The p values by activity are adjusted for their {answer.activity_looks} lines (Holm); those of "
            "the figures above are not adjusted, and their rows are not independent of each other."
        )
    return "The p values of the figures are not adjusted, and their rows are not independent of each other."


def nearer(main: PairedDifference, p: float, names: tuple[str, str]) -> str:
    """Few words on a line by activity: "A nearer", "no difference shown", "too few"."""
    if not main.has_interval:
        return "too few sessions"
    if not is_shown(p):
        return "no difference shown"
    return f"{names[0] if main.difference < 0 else names[1]} nearer"


def p_value(p: float) -> str:
    """P value for a table; a dash where there is none."""
    return DASH if math.isnan(p) else _p(p)


def together_on(sessions: Sequence[Paired]) -> str:
    """How many sessions, in words."""
    return counted(len(sessions), "session")


def list_of(sensors: Sequence[Sensor]) -> str:
    """Names in a sentence: "A, B and C"."""
    names = [sensor.name for sensor in sensors]
    return (
        names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else "no sensor"
    )


def _basis(way: Way, compared: Compared) -> str:
    number = together_on(compared.sessions)
    if way == Way.SAME:
        return f"In {number} of one person, recorded by both"
    return f"In {counted(len(compared.sessions), 'pair')} of matched sessions of one person"


def _main(basis: str, main: PairedDifference, names: tuple[str, str], *, shown: bool) -> str:
    closer, other = names if main.difference <= 0 else names[::-1]
    # As how much smaller the error of the one that came nearer was.
    size = abs(main.difference)
    low, high = sorted((abs(main.low), abs(main.high)))
    smaller, larger = sorted((main.first, main.second))
    errors = f"mean absolute error {smaller:.1f} against {larger:.1f} bpm"
    if shown:
        return (
            f"{basis}, {closer} came nearer to the reference than {other}: {errors}, a difference of "
            f"{size:.1f} bpm (95% interval {low:.1f} to {high:.1f})."
        )
    if main.low <= 0 <= main.high:
        nearer_by, farther_by = (-main.low, main.high) if main.difference <= 0 else (main.high, -main.low)
        between = f"from {nearer_by:.1f} bpm nearer to {farther_by:.1f} bpm farther"
    else:
        between = f"from {low:.1f} to {high:.1f} bpm nearer"
    return (
        f"{basis}, {closer} came {size:.1f} bpm nearer to the reference than {other} on average ({errors}), "
        f"but the 95% interval runs {between}: these sessions do not show which of the two is nearer. That "
        "is not the same as their being equal."
    )


def _steadier(found: VarianceRatio | None, names: tuple[str, str]) -> list[str]:
    # The test leans on normal biases, which a handful of sessions cannot vouch for.
    if found is None or found.sessions < FEWEST_FOR_SIGNS or not is_shown(found.p):
        return []
    steady, other = names if found.ratio < 1 else names[::-1]
    ratio, low, high = (
        (found.ratio, found.low, found.high)
        if found.ratio < 1
        else (1 / found.ratio, 1 / found.high, 1 / found.low)
    )
    return [
        f"The bias of {steady} varied less from session to session: its variance was {ratio:.2g} times that "
        f"of {other} (95% interval {low:.2g} to {high:.2g}, not adjusted, if biases are spread normally)."
    ]


def _none(answer: Answer, compared: Compared) -> str:
    strap = answer.reference.name if answer.reference else "a reference"
    two = f"{compared.first.name} and {compared.second.name}"
    if answer.way == Way.SAME:
        return f"No session here was recorded by {two} and {strap} together."
    return f"No session of {two} can be matched: none were alike in activity, intensity and length."


def _p(p: float) -> str:
    return "< 0.001" if p < 0.001 else f"{p:.3f}" if p < 0.1 else f"{p:.2f}"
