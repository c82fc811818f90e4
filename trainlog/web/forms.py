"""Forms of the log's pages: they parse and explain; services decide."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError

from trainlog.load.session_rpe import HIGHEST_RATING
from trainlog.models import Activity, Athlete, Family, Part, Physiology, Sensor
from trainlog.models.athlete import AGE_FORMULA_ERROR, MEASURED_MAXIMUM_ERROR, maximum_for_age
from trainlog.models.recording import CLOCK_SETTINGS
from trainlog.readers.delimited_columns import CsvColumns
from trainlog.readers.reading import Clock
from trainlog.services.tags import LONGEST_TAG, MOST_TAGS
from trainlog.web.clock_field import ClockField
from trainlog.web.lactate_field import LactateField
from trainlog.web.seen import SeenMixin
from trainlog.whereabouts import Whereabouts

LONGEST_NOTE = 4000


def activities_of(athlete: Athlete) -> forms.ModelChoiceField:
    """Field to choose one of the athlete's own activities, in the order of their families."""
    return forms.ModelChoiceField(Activity.objects.of(athlete), label="Activity", empty_label=None)


class DaysInOrder(forms.Form):
    """Two days, of which either may be left open; a form adds the fields ``first`` and ``last``."""

    def clean(self) -> dict[str, Any]:
        """Refuse days in the wrong order."""
        data = self.cleaned_data
        first, last = data.get("first"), data.get("last")
        if first and last and first > last:
            raise ValidationError({"last": "The last day must not be before the first."})
        return data


class PartForm(forms.Form):
    """A form about one part; several of them stand on one page, so ids carry the part's key."""

    def __init__(self, part: Part, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", f"part{part.pk}_%s")
        kwargs.setdefault("initial", {"activity": part.activity_id, "session_rpe": part.session_rpe})
        super().__init__(*args, **kwargs)
        self.part = part


class ActivityForm(SeenMixin, PartForm):
    """What kind of work a part was."""

    def __init__(self, part: Part, *args: Any, **kwargs: Any) -> None:
        super().__init__(part, *args, **kwargs)
        self.fields["activity"] = activities_of(part.owner)


class SessionRpeForm(SeenMixin, PartForm):
    """How hard a part was felt to be; halves are allowed, emptying takes the rating back."""

    session_rpe = forms.FloatField(
        label="Session-RPE",
        required=False,
        min_value=0,
        max_value=HIGHEST_RATING,
        step_size=0.5,
        help_text="0 (rest) to 10 (maximal)",
    )


class PlaceForm(PartForm):
    """A place in a part's workout, counted from where the workout begins, as its chart counts."""

    minutes: ClassVar[forms.Field]

    @property
    def at(self) -> datetime:
        """The instant, on a whole second; the end of the workout for any that lies beyond."""
        begins, ends = self.part.workout.start, self.part.workout.end
        return min(begins + timedelta(seconds=self.cleaned_data["minutes"]), ends)


class SplitForm(PlaceForm):
    """Where to cut a part in two."""

    minutes = ClockField(label="Cut it at", help_text="minutes:seconds since the workout began")

    def __init__(self, part: Part, *args: Any, **kwargs: Any) -> None:
        begins = (part.start - part.workout.start).total_seconds()
        kwargs.setdefault("initial", {"minutes": round(begins + part.seconds / 2)})
        super().__init__(part, *args, **kwargs)


class BoundaryForm(SeenMixin, PlaceForm):
    """Where a part ends and the next begins."""

    minutes = ClockField(label="Begins at", help_text="minutes:seconds since the workout began")

    def __init__(self, part: Part, *args: Any, **kwargs: Any) -> None:
        ends = (part.end - part.workout.start).total_seconds()
        kwargs.setdefault("initial", {"minutes": round(ends)})
        kwargs.setdefault("auto_id", f"boundary{part.pk}_%s")
        super().__init__(part, *args, **kwargs)


class NoteForm(SeenMixin, forms.Form):
    """The athlete's own words on a workout."""

    tags = forms.CharField(
        label="Tags, separated by commas",
        required=False,
        max_length=MOST_TAGS * (LONGEST_TAG + 2),
        widget=forms.TextInput(attrs={"list": "own-tags", "autocomplete": "off", "autocapitalize": "none"}),
    )
    note = forms.CharField(
        label="Note", required=False, max_length=LONGEST_NOTE, widget=forms.Textarea(attrs={"rows": 3})
    )


class SensorChoiceForm(SeenMixin, forms.Form):
    """Which sensor made a recording."""

    def __init__(self, athlete: Athlete, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["sensor"] = forms.ModelChoiceField(
            Sensor.objects.of(athlete), required=False, empty_label="not known"
        )


class ClockForm(SeenMixin, forms.Form):
    """How a recording's clock was set."""

    clock = forms.TypedChoiceField(choices=CLOCK_SETTINGS, coerce=Clock)


class ColumnsForm(forms.Form):
    """What the athlete knows of a text file that its header does not say."""

    time = forms.CharField(required=False, max_length=60)
    heart_rate = forms.CharField(required=False, max_length=60)
    start = forms.DateTimeField(required=False)

    def columns(self, whereabouts: Whereabouts) -> CsvColumns | None:
        """Columns by name or number, and the start by the clock there; None where nothing was said."""
        data = self.cleaned_data
        if not any(data.values()):
            return None
        start = data["start"]
        if start is not None:
            wall = start.astimezone(whereabouts.home)
            start = wall.replace(tzinfo=whereabouts.zone_on(wall.date()))
        return CsvColumns(time=data["time"], heart_rate=data["heart_rate"], start=start)


class AccountForm(SeenMixin, forms.ModelForm):
    """Time zone, privacy and how near a load must be."""

    class Meta:
        model = Athlete
        fields = ("time_zone", "keep_positions", "near_per_cent")
        widgets: ClassVar = {
            "time_zone": forms.TextInput(attrs={"list": "time-zones", "autocomplete": "off"})
        }
        help_texts: ClassVar = {
            "time_zone": "Decides which day a workout falls on, for example Europe/Lisbon.",
            "keep_positions": "Otherwise places are dropped when a file is read; the file you uploaded is "
            "kept as it was.",
            "near_per_cent": "A load this near the strap's serves you; the advice on when to wear one goes "
            "by the chance of that. From 2 to 30, usually 10.",
        }
        labels: ClassVar = {"near_per_cent": "How near a load must be to serve you, in % of the true one"}


class NewActivityForm(forms.Form):
    """A kind of work of the athlete's own."""

    name = forms.CharField(max_length=60, help_text="for example: hill repeats")
    family = forms.ChoiceField(
        choices=Family,
        help_text="Activities of one family share how a wrist errs, until pairs say otherwise.",
    )


class PhysiologyForm(SeenMixin, forms.ModelForm):
    """Resting and maximum heart rate from a day on."""

    not_there = ("age",)

    age = forms.FloatField(
        label="or predict it from age",
        required=False,
        min_value=10,
        max_value=110,
        help_text="years; used only while the maximum above is empty (208 − 0.7 × age)",
    )

    lactate_points = LactateField(
        label="Lactate test: one stage a line, heart rate and mmol/l",
        required=False,
        widget=forms.Textarea(
            attrs={"rows": 6, "cols": 20, "inputmode": "text", "autocomplete": "off", "spellcheck": "false"}
        ),
        help_text="Such as “150 2.4”, four stages or more. With the own weighting, factor and exponent are "
        "fitted to them by this row’s resting and maximum rate.",
    )

    class Meta:
        model = Physiology
        fields = (
            "from_day",
            "resting_rate",
            "resting_error",
            "maximum_rate",
            "maximum_source",
            "maximum_error",
            "first_threshold",
            "second_threshold",
            "weighting",
            "own_factor",
            "own_exponent",
            "lactate_points",
        )
        widgets: ClassVar = {"from_day": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}
        labels: ClassVar = {"from_day": "In force from"}
        help_texts: ClassVar = {
            "resting_error": "bpm; 3 is usual for a rate counted on several mornings",
            "maximum_error": "bpm; left empty it is 3 for a measured maximum and 10 for a predicted one",
            "first_threshold": "bpm, if you know it",
            "second_threshold": "bpm, if you know it",
            "own_factor": "only for an own weighting without a test",
            "own_exponent": "only for an own weighting without a test",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["maximum_rate"].required = False
        self.fields["maximum_error"].required = False
        if self.initial.get("lactate_points"):
            # What was fitted is fitted anew, so it is no figure to look after.
            self.initial.update(own_factor=None, own_exponent=None)
        for name, field in self.fields.items():
            if isinstance(field, forms.FloatField):
                step = "any" if name.startswith("own_") else "0.5"
                field.widget.attrs |= {"inputmode": "decimal", "step": step}

    def clean(self) -> dict[str, Any]:
        """Fill in the predicted maximum, and the usual error of wherever the maximum comes from."""
        # Not calling super() leaves the table's constraints to the service: it explains them in words.
        data = self.cleaned_data
        if data.get("maximum_rate") is None and "maximum_rate" not in self.errors:
            if data.get("age") is None:
                raise ValidationError({"maximum_rate": "Enter a maximum, or an age to predict one from."})
            data["maximum_rate"] = maximum_for_age(data["age"])
            data["maximum_source"] = Physiology.MaximumSource.AGE
        if data.get("maximum_error") is None:
            measured = data.get("maximum_source") == Physiology.MaximumSource.MEASURED
            data["maximum_error"] = MEASURED_MAXIMUM_ERROR if measured else AGE_FORMULA_ERROR
        return data
