"""Mornings: keeping them, and how the last seven days stand against what is usual."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import Any, Literal

import numpy as np
from django.core.exceptions import ValidationError

from trainlog.load.hrv import (
    LEAST_BASELINE_DAYS,
    LEAST_VALID_DAYS,
    WEEK_DAYS,
    UsualBand,
    against_usual,
    usual_band,
    weekly_mean,
)
from trainlog.models import Athlete, CheckIn, Deletion
from trainlog.services.deletions import delete_row
from trainlog.services.rr_file import rmssd_of_file
from trainlog.services.workout_words import day_in_words
from trainlog.trace import FloatArray

SHOWN_DAYS = 60
"""Days that are looked back on, today counted."""

FAR_ABOVE = 10.0
"""bpm above the usual band from which a resting rate is worth measuring again (our rule, no source)."""

PLACES = {
    "below": "below your usual band",
    "within": "inside your usual band",
    "above": "above your usual band",
}


@dataclass(frozen=True)
class Course:
    """One figure over the days looked back on.

    Attributes
    ----------
    values, weekly : array, shape (days,)
        Each morning's value, and the mean of the seven days up to it; NaN where not known.
    band : UsualBand or None
        Of the mornings before the last seven days, which so do not move their own measure.
    baseline_mornings, week_mornings : int
        Mornings with a value before the last seven days, and in them.
    """

    values: FloatArray
    weekly: FloatArray
    band: UsualBand | None
    baseline_mornings: int
    week_mornings: int

    @property
    def latest(self) -> float | None:
        """Mean of the last seven days, if it is known."""
        return None if np.isnan(self.weekly[-1]) else float(self.weekly[-1])

    @property
    def place(self) -> Literal["below", "within", "above", "unknown"]:
        """Where that mean lies."""
        return against_usual(float(self.weekly[-1]), self.band)

    @property
    def in_words(self) -> str:
        """The same in words, or what is missing to say it."""
        if self.band is None:
            return f"too few mornings yet ({self.baseline_mornings} of {LEAST_BASELINE_DAYS})"
        if self.latest is None:
            return f"too few mornings in the last seven days ({self.week_mornings} of {LEAST_VALID_DAYS})"
        return PLACES[self.place]


@dataclass(frozen=True)
class Mornings:
    """The days looked back on.

    Attributes
    ----------
    days : sequence of date
        Every one of them, oldest first.
    check_ins : sequence of CheckIn
        Those that were noted, newest first.
    ln_rmssd, resting_rate : Course
        In the logarithm of milliseconds, and in bpm.
    far_above : CheckIn or None
        The newest morning of the last seven days with a resting rate, if that is far above the usual band.
    """

    days: Sequence[date]
    check_ins: Sequence[CheckIn]
    ln_rmssd: Course
    resting_rate: Course
    far_above: CheckIn | None


def save_check_in(
    athlete: Athlete, day: date, noted: Mapping[str, Any], *, rr_file: bytes | None = None
) -> CheckIn:
    """Keep what is noted of a morning, in place of whatever was noted of it before.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    day : date
        Local day, not after today.
    noted : mapping
        Values by the names of the fields; what is left out is not noted. An rMSSD that stands as it was
        worked out from a file keeps what is known of that file's quality.
    rr_file : bytes, optional
        File of RR intervals from which rMSSD is worked out; it is not kept.

    Raises
    ------
    ValidationError
        If the day is still to come, a figure cannot be, nothing is noted, the file gives no rMSSD, or one
        was typed beside it.
    """
    _refuse_to_come(athlete, day)
    before = check_in_of(athlete, day)
    check_in = CheckIn(owner=athlete, day=day, **noted)
    as_before = before is not None and check_in.rmssd == before.rmssd
    if rr_file is not None:
        if check_in.rmssd is not None and not as_before:
            raise ValidationError(
                {"rr_file": "Type an rMSSD or choose a file, not both: empty one of the two."}
            )
        _fill_from_file(check_in, athlete, rr_file)
    elif as_before and before is not None:
        check_in.rmssd_beats = before.rmssd_beats
        check_in.rmssd_corrected_share = before.rmssd_corrected_share
    return _keep(athlete, check_in)


def save_rr_file(athlete: Athlete, day: date, rr_file: bytes) -> CheckIn:
    """Set the rMSSD of a morning from a file of RR intervals; what else is noted of it stays.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    day : date
        Local day, not after today.
    rr_file : bytes
        The whole file, which is not kept.

    Raises
    ------
    ValidationError
        If the day is still to come, or the file gives no rMSSD.
    """
    _refuse_to_come(athlete, day)
    check_in = check_in_of(athlete, day) or CheckIn(owner=athlete, day=day)
    _fill_from_file(check_in, athlete, rr_file)
    return _keep(athlete, check_in)


def delete_check_in(check_in: CheckIn) -> Deletion:
    """Remove what is noted of a morning; nothing that is estimated rests on it. It can be put back."""
    return delete_row(check_in, f"morning of {day_in_words(check_in.day)}")


def _refuse_to_come(athlete: Athlete, day: date) -> None:
    if day > athlete.today():
        raise ValidationError({"day": "This morning is still to come."})


def _fill_from_file(check_in: CheckIn, athlete: Athlete, rr_file: bytes) -> None:
    for name, value in asdict(
        rmssd_of_file(rr_file, check_in.day, athlete.whereabouts().zone_on(check_in.day))
    ).items():
        setattr(check_in, name, value)


def _keep(athlete: Athlete, check_in: CheckIn) -> CheckIn:
    day = check_in.day
    check_in.full_clean(exclude=["owner"], validate_unique=False, validate_constraints=False)
    names = [field.name for field in CheckIn._meta.fields if field.name not in {"id", "owner", "day"}]
    kept, _ = CheckIn.objects.of(athlete).update_or_create(
        owner=athlete, day=day, defaults={name: getattr(check_in, name) for name in names}
    )
    return kept


def check_in_of(athlete: Athlete, day: date) -> CheckIn | None:
    """What is noted of a morning, if anything."""
    return CheckIn.objects.of(athlete).filter(day=day).first()


def check_ins_between(athlete: Athlete, first: date, last: date) -> list[CheckIn]:
    """Mornings noted from ``first`` to ``last``, oldest first."""
    return list(CheckIn.objects.of(athlete).filter(day__range=(first, last)).order_by("day"))


def last_mornings(athlete: Athlete, today: date) -> Mornings:
    """The last sixty days, and how the last seven of them stand against the days before.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    today : date
        Last of the days.
    """
    days = [today - timedelta(days=back) for back in reversed(range(SHOWN_DAYS))]
    noted = {check_in.day: check_in for check_in in check_ins_between(athlete, days[0], today)}
    rate = _course([noted[day].resting_rate if day in noted else None for day in days])
    return Mornings(
        days=days,
        check_ins=list(reversed(noted.values())),
        ln_rmssd=_course([noted[day].ln_rmssd if day in noted else None for day in days]),
        resting_rate=rate,
        far_above=_far_above([noted[day] for day in days[-WEEK_DAYS:] if day in noted], rate.band),
    )


def _course(values: Sequence[float | None]) -> Course:
    daily = np.array(values, dtype=float)
    before, week = daily[:-WEEK_DAYS], daily[-WEEK_DAYS:]
    return Course(
        values=daily,
        weekly=weekly_mean(daily),
        band=usual_band(before),
        baseline_mornings=int(np.isfinite(before).sum()),
        week_mornings=int(np.isfinite(week).sum()),
    )


def _far_above(week: Sequence[CheckIn], band: UsualBand | None) -> CheckIn | None:
    measured = [(check_in, check_in.resting_rate) for check_in in week if check_in.resting_rate is not None]
    if band is None or not measured:
        return None
    newest, rate = measured[-1]
    return newest if rate >= band.high + FAR_ABOVE else None
