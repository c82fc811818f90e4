"""Form field of a lactate test: one stage a line."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

MOST_STAGES = 30
LOWEST_RATE, HIGHEST_RATE = 30.0, 240.0
HIGHEST_LACTATE = 40.0
"""mmol/l; more than is measured in anyone's blood after exercise (our rule, no source)."""

_STAGE = re.compile(r"(\d{1,3}(?:\.\d+)?) ?(?:bpm)? ?[ ,;:] ?(\d{1,2}(?:[.,]\d+)?) ?(?:mmol/l)?[;,]?", re.I)
"""Of a line in which blanks stand singly."""


class LactateField(forms.CharField):
    """Text of one stage a line, heart rate in bpm and blood lactate in mmol/l, as pairs of numbers."""

    widget = forms.Textarea

    def prepare_value(self, value: Any) -> Any:
        """Kept pairs as lines; what was posted stays as it was typed."""
        if isinstance(value, list):
            return "\n".join(f"{rate:g} {lactate:g}" for rate, lactate in value)
        return value

    def to_python(self, value: Any) -> Any:
        """Pairs of heart rate and lactate, in order of the lines.

        Raises
        ------
        ValidationError
            Naming the first line that is no stage.
        """
        points = []
        for number, line in enumerate(str(value or "").splitlines(), start=1):
            if not line.strip():
                continue
            stage = _STAGE.fullmatch(" ".join(line.split()))
            if stage is None:
                raise ValidationError(
                    f"Line {number}, “{line.strip()[:40]}”, is no stage: write the heart rate and the "
                    "lactate, such as “150 2.4”."
                )
            rate, lactate = float(stage[1]), float(stage[2].replace(",", "."))
            if not LOWEST_RATE <= rate <= HIGHEST_RATE:
                raise ValidationError(
                    f"Line {number}: a heart rate of a stage lies between {LOWEST_RATE:.0f} and "
                    f"{HIGHEST_RATE:.0f} bpm. It stands first in the line."
                )
            if not 0 < lactate <= HIGHEST_LACTATE:
                raise ValidationError(
                    f"Line {number}: blood lactate lies above 0 and up to {HIGHEST_LACTATE:.0f} mmol/l."
                )
            points.append([rate, lactate])
        if len(points) > MOST_STAGES:
            raise ValidationError(f"A test has at most {MOST_STAGES} stages, not {len(points)}.")
        return points
