"""The table of a part's sets, with the form that adds one and the line that is being changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from trainlog.load.session_rpe import HIGHEST_RATING
from trainlog.models import Family, LiftSet, Part
from trainlog.models.lift_set import HEAVIEST, MOST_REPETITIONS
from trainlog.services.lift_sets import FIELDS, SetSums, sums_by_exercise, sums_of
from trainlog.services.typed_session import LIFTED
from trainlog.web.seen import SeenMixin

REMEMBERED = ("exercise", "sets", "repetitions", "kilograms")
"""What a new line takes over from the last; how hard a set was is asked each time."""

WHOLE = {"inputmode": "numeric", "autocomplete": "off"}
DECIMAL = {"inputmode": "decimal", "step": "any", "autocomplete": "off"}


class SetForm(SeenMixin, forms.Form):
    """A line of sets."""

    exercise = forms.CharField(
        label="Exercise",
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    sets = forms.IntegerField(
        label="Sets", min_value=1, max_value=100, initial=1, widget=forms.NumberInput(attrs=WHOLE)
    )
    repetitions = forms.IntegerField(
        label="Reps", min_value=1, max_value=MOST_REPETITIONS, widget=forms.NumberInput(attrs=WHOLE)
    )
    kilograms = forms.FloatField(
        label="Load, kg",
        required=False,
        min_value=0,
        max_value=HEAVIEST,
        widget=forms.NumberInput(attrs=DECIMAL),
    )
    rpe = forms.FloatField(
        label="RPE",
        required=False,
        min_value=0,
        max_value=HIGHEST_RATING,
        widget=forms.NumberInput(attrs=DECIMAL),
    )

    def __init__(self, part: Part, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["exercise"].widget.attrs["list"] = f"exercises-{part.pk}"


def form_to_add(part: Part, last: LiftSet | None, posted: Any = None) -> SetForm:
    """Form for one more line, filled in with the last one's exercise and load."""
    initial = _said(last, REMEMBERED) if last else {}
    return SetForm(part, posted, auto_id=f"add{part.pk}_%s", initial=initial)


def form_to_change(row: LiftSet, posted: Any = None) -> SetForm:
    """Form for a line as it stands."""
    return SetForm(row.part, posted, auto_id=f"set{row.pk}_%s", initial=_said(row, FIELDS))


@dataclass(frozen=True)
class SetRow:
    """A form that stands in the place of a line, or below the last one where there is no line yet."""

    part: Part
    row: LiftSet | None
    form: SetForm


@dataclass(frozen=True)
class SetTable:
    """What the page shows of a part's sets."""

    part: Part
    rows: Sequence[LiftSet]
    changing: SetRow | None
    add_form: SetForm
    exercises: Sequence[str]

    @property
    def offers_form(self) -> bool:
        """Whether the form for a new line stands open: where sets are likely, or something was wrong."""
        lifted = self.part.activity.family == Family.RESISTANCE
        return lifted or bool(self.rows) or bool(self.add_form.errors)

    @property
    def total(self) -> SetSums:
        """Sums of all lines."""
        return sums_of(self.rows)

    @property
    def by_exercise(self) -> list[SetSums]:
        """Sums of each exercise, where there are several."""
        sums = sums_by_exercise(self.rows)
        return sums if len(sums) > 1 else []


def set_table(part: Part, exercises: Sequence[str], open_row: SetRow | None = None) -> SetTable | None:
    """Table of a part's sets; None where the part has none and is of no kind of work that has."""
    rows = list(LiftSet.objects.of(part.owner).filter(part=part).order_by("place"))
    if not rows and part.activity.family not in LIFTED:
        return None
    ours = open_row if open_row and open_row.part.pk == part.pk else None
    changing = ours if ours and ours.row else None
    added = ours.form if ours and not ours.row else form_to_add(part, rows[-1] if rows else None)
    return SetTable(part, rows, changing, added, exercises)


def _said(row: LiftSet, names: Sequence[str]) -> dict[str, Any]:
    # 62 and not 62.0, as it was typed.
    values = {name: getattr(row, name) for name in names}
    return {name: f"{value:g}" if isinstance(value, float) else value for name, value in values.items()}
