"""Field for a place in a workout, typed as its chart and its texts write it: 41:04, 1:03:05, or 41.5."""

from __future__ import annotations

import math
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from trainlog.web import words

LONGEST = 10
"""Characters: a workout lasts at most a day."""


class ClockField(forms.CharField):
    """Seconds from minutes and seconds, from hours, minutes and seconds, or from plain minutes."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", LONGEST)
        super().__init__(**kwargs)
        self.widget.attrs |= {"autocomplete": "off", "spellcheck": "false", "size": LONGEST}

    def prepare_value(self, value: Any) -> Any:
        """Seconds as text; what was typed stays as it was."""
        return words.clock(value) if isinstance(value, int | float) else value

    def clean(self, value: Any) -> Any:
        """Whole seconds since the workout began.

        Raises
        ------
        ValidationError
            If it is no such text.
        """
        text = super().clean(value)
        if not text:
            return None
        seconds = seconds_of(text)
        if seconds is None:
            raise ValidationError("Type it like 41:04 (minutes and seconds) or 1:03:05 (with hours).")
        return seconds


def seconds_of(text: str) -> int | None:
    """Seconds of a text such as "41:04"; None where it is none.

    Parameters
    ----------
    text : str
        Minutes and seconds, or hours, minutes and seconds, parted by colons; or minutes alone, which may
        have decimals.
    """
    *whole, last = text.strip().split(":")
    if not whole:
        try:
            minutes = float(last)
        except ValueError:
            return None
        return round(minutes * 60) if math.isfinite(minutes) and minutes >= 0 else None
    if len(whole) > 2 or not all(piece.isascii() and piece.isdigit() for piece in (*whole, last)):
        return None
    units = [int(piece) for piece in (*whole, last)]
    if any(unit > 59 for unit in units[1:]):
        return None
    return sum(unit * 60**power for power, unit in enumerate(reversed(units)))
