"""What the log is searched by: a form of addresses, which keeps nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django import forms
from django.http import QueryDict

from trainlog.models import Activity, Athlete, Basis, Confidence, Family, Sensor
from trainlog.services.find_workouts import LONGEST_SEARCH, Rated, Wanted, Worn, loosened
from trainlog.services.tags import LONGEST_TAG, used_tags
from trainlog.web.forms import DaysInOrder

ANY = ("", "any")


def day(label: str) -> forms.DateField:
    """Field for a local day."""
    return forms.DateField(
        label=label, required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )


def choice(label: str, choices: Iterable[tuple[str, str]]) -> forms.ChoiceField:
    """Field for one of a few words, or any."""
    return forms.ChoiceField(label=label, required=False, choices=[ANY, *choices])


class LogFilter(DaysInOrder):
    """What workouts are looked for; every field may be left empty."""

    text = forms.CharField(
        label="Words",
        required=False,
        max_length=LONGEST_SEARCH,
        help_text="in notes, tags, and names of activities, sensors and files",
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    activity = forms.ModelChoiceField(
        Activity.objects.none(), label="Activity", required=False, empty_label="any", to_field_name="slug"
    )
    family = choice("Kind of work", Family.choices)
    worn = choice("Worn", Worn.choices)
    sensor = forms.ModelChoiceField(Sensor.objects.none(), label="Sensor", required=False, empty_label="any")
    tag = forms.CharField(
        label="Tag",
        required=False,
        max_length=LONGEST_TAG,
        widget=forms.TextInput(attrs={"list": "tags-to-find", "autocomplete": "off"}),
    )
    rated = choice("Session-RPE", Rated.choices)
    basis = choice("Load rests on", Basis.choices)
    confidence = choice("Confidence", Confidence.choices)
    first = day("From")
    last = day("Until")

    def __init__(self, athlete: Athlete, asked: QueryDict) -> None:
        # Nothing asked is nothing wrong: the form is always bound.
        super().__init__(asked, auto_id="find_%s")
        self.athlete, self.asked = athlete, asked
        for name, model in (("activity", Activity), ("sensor", Sensor)):
            field = self.fields[name]
            if isinstance(field, forms.ModelChoiceField):
                field.queryset = model.objects.of(athlete)

    @property
    def used(self) -> bool:
        """Whether anything was asked for, whether or not it makes sense."""
        return any(self.data.get(name, "").strip() for name in self.fields)

    @property
    def wanted(self) -> Wanted:
        """What is wanted, of a form that is valid."""
        return Wanted(**self.cleaned_data)

    @property
    def tags(self) -> list[str]:
        """The athlete's own tags, to choose from."""
        return used_tags(self.athlete)

    @property
    def in_words(self) -> list[tuple[str, str]]:
        """Name and words of everything wanted: "Words: “knee”", "Session-RPE: not rated"."""
        return [(name, self._said(name)) for name in self.wanted.given]

    def loosened(self) -> list[Loosened]:
        """What would be found without one of the wishes; for where nothing was found."""
        return [
            Loosened(self._said(name), count, self._address_without(name))
            for name, count in loosened(self.athlete, self.wanted).items()
        ]

    def _said(self, name: str) -> str:
        field, value = self.fields[name], self.cleaned_data[name]
        if isinstance(field, forms.ModelChoiceField):
            return str(value)
        if isinstance(field, forms.ChoiceField):
            return str(dict(field.choices)[value])  # type: ignore[arg-type]
        if isinstance(field, forms.DateField):
            return f"{'from' if name == 'first' else 'until'} {value.day} {value:%B %Y}"
        return f"tagged “{value}”" if name == "tag" else f"“{value}”"

    def _address_without(self, name: str) -> str:
        rest = self.asked.copy()
        for gone in (name, "page"):
            rest.pop(gone, None)
        return f"?{rest.urlencode()}"


@dataclass(frozen=True)
class Loosened:
    """One wish in words, how many workouts there are without it, and where they are shown."""

    without: str
    count: int
    address: str
