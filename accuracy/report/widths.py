"""How a table fits across a printed page: the largest type in which no number breaks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

ROOM = 448.0
"""Points between the margins."""

SIZES = (9.5, 8.5, 7.5, 6.5)
"""Sizes of type in points that a table may be set in."""

LETTER = 0.5
"""Mean width of a letter or digit, as a share of the size: digits of the printed font are 0.47 wide."""

PADDING = 8.0
"""Points beside the text of a cell."""

LONGEST = 22
"""Letters of a text that a column has to hold on one line; a longer one may go over several."""


@dataclass(frozen=True)
class Fit:
    """Size of a table's type in points, and width of each column in points; None is as wide as it needs."""

    size: float
    widths: tuple[float | None, ...]


def fit(headings: Sequence[str], rows: Sequence[Sequence[str]], numbers: Sequence[bool]) -> Fit:
    """Fit a table across the page.

    Parameters
    ----------
    headings : sequence of str
        They may go over several lines.
    rows : sequence of sequence of str
        Cells as they are shown.
    numbers : sequence of bool
        Which columns hold numbers: those are never broken.
    """
    columns = range(len(headings))
    longest = [max((len(row[place]) for row in rows), default=0) for place in columns]
    words = [_longest_word(headings[place]) for place in columns]
    least = [
        max(words[place], longest[place] if numbers[place] else min(longest[place], LONGEST))
        for place in columns
    ]
    size = next((size for size in SIZES if _wide(least, size) <= ROOM), SIZES[-1])
    if (
        _wide([max(len(heading), long) for heading, long in zip(headings, longest, strict=True)], size)
        <= ROOM
    ):
        return Fit(size, (None,) * len(headings))
    return Fit(
        size,
        tuple(
            round(least[place] * LETTER * size + PADDING, 1) if numbers[place] else None for place in columns
        ),
    )


def _longest_word(text: str) -> int:
    return max((len(word) for word in text.split(" ")), default=0)


def _wide(letters: Sequence[int], size: float) -> float:
    return sum(count * LETTER * size + PADDING for count in letters)
