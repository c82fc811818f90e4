"""What the athlete ticked in private: kept, and what it switches off."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction

from trainlog.models import Athlete, Care


def care_of(athlete: Athlete) -> Care:
    """What the athlete ticked; a row that is not kept where nothing is."""
    return Care.objects.of(athlete).first() or Care(owner=athlete)


def save_care(athlete: Athlete, ticked: Mapping[str, bool]) -> None:
    """Keep the ticks in place of those before; without any, nothing is kept at all.

    Parameters
    ----------
    athlete : Athlete
        Whose ticks they are.
    ticked : mapping
        Whether it is ticked, by the names of ``Care.ticks()``; what is left out is not.
    """
    ticks = {name: bool(ticked.get(name)) for name in Care.ticks()}
    with transaction.atomic():
        if any(ticks.values()):
            Care.objects.of(athlete).update_or_create(owner=athlete, defaults=ticks)
        else:
            Care.objects.of(athlete).delete()


def heart_rate_may_mislead(athlete: Athlete) -> bool:
    """Whether advice that rests on heart rate is switched off: anything ticked does it."""
    return care_of(athlete).any
