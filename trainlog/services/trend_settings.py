"""What the athlete chooses of how load is shown: the measure, and the spans of the trend."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from trainlog.models import Athlete, Measure
from trainlog.services.log_changed import log_changed

SHORTEST_SPAN, LONGEST_SPAN = 1, 120
"""Days."""

SPANS = ("acute_days", "chronic_days", "slow_days", "fast_days")


def set_spans(athlete: Athlete, acute: int, chronic: int, slow: int, fast: int) -> None:
    """Keep the spans of acute and chronic load and the time constants of the responses, in days.

    The trend is worked out anew; no load changes.

    Raises
    ------
    ValidationError
        If one is out of range, or the short one of a pair is not below the long one.
    """
    values = dict(zip(SPANS, (acute, chronic, slow, fast), strict=True))
    wrong = {
        name: f"Choose {SHORTEST_SPAN} to {LONGEST_SPAN} days."
        for name, value in values.items()
        if not SHORTEST_SPAN <= value <= LONGEST_SPAN
    }
    if not wrong and acute >= chronic:
        wrong["acute_days"] = "Acute load needs fewer days than chronic load."
    if not wrong and fast >= slow:
        wrong["fast_days"] = "The fast response needs fewer days than the slow one."
    if wrong:
        raise ValidationError(wrong)
    with transaction.atomic():
        Athlete.objects.filter(pk=athlete.pk).update(**values)
        log_changed(athlete)
    for name, value in values.items():
        setattr(athlete, name, value)


def set_measure(athlete: Athlete, measure: str) -> None:
    """Choose the measure in which loads are shown; all are estimated, so nothing is estimated anew.

    Raises
    ------
    ValidationError
        If it is none of the measures.
    """
    if measure not in Measure.values:
        raise ValidationError({"measure": f"Choose one of {', '.join(Measure.values)}."})
    Athlete.objects.filter(pk=athlete.pk).update(measure=measure)
    athlete.measure = measure


def choose(athlete: Athlete, values: Mapping[str, Any]) -> None:
    """Change some of measure and spans, all or none of them.

    Parameters
    ----------
    athlete : Athlete
    values : mapping
        By the names of ``SPANS`` and "measure"; what is left out stays as it is.

    Raises
    ------
    ValidationError
        As in ``set_spans`` and ``set_measure``.
    """
    with transaction.atomic():
        if values.keys() & set(SPANS):
            set_spans(athlete, *(values.get(name, getattr(athlete, name)) for name in SPANS))
        if "measure" in values:
            set_measure(athlete, values["measure"])
