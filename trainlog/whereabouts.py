"""In which time zone an instant falls, and so on which local day: home, or a stay elsewhere."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo


@dataclass(frozen=True)
class Away:
    """Days spent in another time zone; they are the local days there, both included."""

    zone: ZoneInfo
    first_day: date
    last_day: date

    def holds(self, day: date) -> bool:
        """Whether a local day of this zone belongs to the stay."""
        return self.first_day <= day <= self.last_day

    @property
    def order(self) -> tuple[date, date, str]:
        """By start, then by end: of two stays that touch, the one begun later comes last."""
        return self.first_day, self.last_day, self.zone.key


def overlap(one: Away, other: Away) -> bool:
    """Whether two stays share more than a day on which one ends and the other begins."""
    earlier, later = sorted((one, other), key=lambda stay: stay.order)
    same_days = earlier.first_day == later.first_day and earlier.last_day == later.last_day
    return same_days or earlier.last_day > later.first_day


@dataclass(frozen=True)
class Whereabouts:
    """Home and the stays elsewhere, in any order."""

    home: ZoneInfo
    stays: tuple[Away, ...] = ()

    def zone_at(self, moment: datetime) -> ZoneInfo:
        """Zone in which an instant falls.

        Parameters
        ----------
        moment : datetime
            With a time zone, whichever.

        Returns
        -------
        ZoneInfo
            That of the stay during whose days, counted by its own clock, the instant lies; of several the
            one that began last, so that the day on which one stay ends and the next begins belongs to the
            next as soon as it has begun there. Home without one.
        """
        return self._latest(stay for stay in self.stays if stay.holds(moment.astimezone(stay.zone).date()))

    def day_of(self, moment: datetime) -> date:
        """Local day of an instant: exactly one, by the clock of the zone in which it falls."""
        return moment.astimezone(self.zone_at(moment)).date()

    def zone_on(self, day: date) -> ZoneInfo:
        """Zone by whose clock a time of a day is meant that was noted without one."""
        return self._latest(stay for stay in self.stays if stay.holds(day))

    def _latest(self, stays: Iterable[Away]) -> ZoneInfo:
        found = max(stays, key=lambda stay: stay.order, default=None)
        return found.zone if found else self.home
