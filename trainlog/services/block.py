"""Any span of days of a log, told as a week is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from trainlog.load.week import Comparison, Total, compare
from trainlog.models import Athlete, Measure, TrendWeek, UnknownDay
from trainlog.services.bands import MinutesInBands, minutes_in_bands
from trainlog.services.doubt import WeekDoubt, main_doubt_of
from trainlog.services.held import BasisShare, ConfidenceShare, FamilyCount, Held, held_in, nothing
from trainlog.services.lines import (
    WEEK,
    first_day_of,
    lines_between,
    pending_between,
)
from trainlog.services.trend_bytes import held_in_weeks, weeks_of

ONE_DAY = timedelta(days=1)

LONGEST_BY_PART = 26 * 7
"""Days up to which a block is summed part by part; a longer one takes its whole weeks from what was kept of
them, and no few of its parts make most of its doubt."""


@dataclass(frozen=True)
class Block:
    """A span of days.

    Attributes
    ----------
    first, last : date
        As asked for.
    until : date
        Last day that has begun: the last one, or today.
    measure : Measure
        Measure of load.
    total, confidence, shares, shares_by_confidence, families, hours, session_rpe_load, rated_parts, parts
        As in a week; the total is None where no part has an estimate.
    before : tuple of date
        First and last day of the equally long span that it is compared with: as many days of the block of
        this length before it as have passed of this one.
    against_before : Comparison or None
        None where the log does not reach back to it, it has no load, or not every day is known.
    partly_known : bool
        Whether a day of the block, or of what it would be compared with, is marked as not known.
    main_doubt : WeekDoubt or None
        None also for a block of more than ``LONGEST_BY_PART`` days.
    bands : MinutesInBands or None
        None also for one of more than ``bands.LONGEST_DAYS``.
    pending : int
        Parts that are still to be estimated, or estimated anew.
    """

    first: date
    last: date
    until: date
    measure: Measure
    total: Total | None
    confidence: str
    shares: Sequence[BasisShare]
    shares_by_confidence: Sequence[ConfidenceShare]
    families: Sequence[FamilyCount]
    hours: float
    session_rpe_load: float | None
    rated_parts: int
    parts: int
    before: tuple[date, date]
    against_before: Comparison | None
    partly_known: bool
    main_doubt: WeekDoubt | None
    bands: MinutesInBands | None
    pending: int

    @property
    def days(self) -> int:
        """Days that have begun."""
        return (self.until - self.first).days + 1


def block_of(
    athlete: Athlete, first: date, last: date, kept: Mapping[date, NDArray[np.void]] | None = None
) -> Block:
    """What a span of days held, and how it stands against the span before it.

    Parameters
    ----------
    athlete : Athlete
    first, last : date
        Both included, in this order.
    kept : mapping, optional
        Kept weeks of the span by their Monday, as ``trend_between`` has read them already.
    """
    measure, today = Measure(athlete.measure), athlete.today()
    until = min(last, today) if first <= today else last
    length = last - first + ONE_DAY
    before = (first - length, until - length)
    log_begins = first_day_of(athlete)
    by_part = length.days <= LONGEST_BY_PART
    lines = lines_between(athlete, first, last, measure) if by_part else []
    held = held_in(lines) if by_part else _held_between(athlete, first, last, measure, kept)
    known = not UnknownDay.objects.of(athlete).filter(day__range=(before[0], until)).exists()
    reaches_back = log_begins is not None and log_begins <= before[0]
    compared = _held_between(athlete, *before, measure) if known and reaches_back else nothing()
    whole = held.total
    return Block(
        first=first,
        last=last,
        until=until,
        measure=measure,
        total=whole,
        confidence=held.confidence,
        shares=held.shares,
        shares_by_confidence=held.shares_by_confidence,
        families=held.families,
        hours=held.hours,
        session_rpe_load=held.session_rpe_load,
        rated_parts=held.rated_parts,
        parts=held.parts,
        before=before,
        against_before=compare(whole, compared.total),
        partly_known=not known,
        main_doubt=main_doubt_of(lines, whole),
        bands=minutes_in_bands(athlete, first, last, held.parts),
        pending=sum(line.outdated for line in lines)
        if by_part
        else pending_between(athlete, first, last, measure),
    )


def _held_between(
    athlete: Athlete,
    first: date,
    last: date,
    measure: str,
    kept: Mapping[date, NDArray[np.void]] | None = None,
) -> Held:
    """What a span held: whole weeks as they were kept, the days around them part by part."""
    if kept is None:
        rows = (
            TrendWeek.objects.of(athlete)
            .filter(measure=measure, source=athlete.current_source, monday__range=(first, last))
            .order_by("monday")
        )
        kept = {monday: weeks_of([stored]) for monday, stored in rows.values_list("monday", "figures")}
    mondays = [monday for monday in kept if first <= monday <= last - WEEK + ONE_DAY]
    if not mondays:
        return held_in(lines_between(athlete, first, last, measure))
    before, after = (first, mondays[0] - ONE_DAY), (mondays[-1] + WEEK, last)
    around = [
        line
        for begins, ends in (before, after)
        if begins <= ends
        for line in lines_between(athlete, begins, ends, measure)
    ]
    return held_in(around) + held_in_weeks(np.concatenate([kept[monday] for monday in mondays]))
