"""What the page that compares sensors is asked: a form of addresses, which keeps nothing."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from accuracy.services import sensor_comparison
from accuracy.services.sensor_comparison import Way, Wish
from trainlog.models import Activity, Athlete, Sensor
from trainlog.web.forms import DaysInOrder
from trainlog.web.log_filter import day

WAYS = (
    ("", "the same ones if there are three, else matched ones"),
    (Way.SAME.value, "the same: both sensors were worn in them"),
    (Way.MATCHED.value, "matched: alike in activity, intensity and length"),
)


class ComparisonForm(DaysInOrder):
    """Which sensors are compared on what; every field may be left empty."""

    sensor = forms.ModelMultipleChoiceField(
        Sensor.objects.none(),
        label="Tested sensors",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "invalid_choice": "Choose among the sensors shown.",
            "invalid_pk_value": "Choose among the sensors shown.",
        },
    )
    reference = forms.ModelChoiceField(
        Sensor.objects.none(), label="Reference", required=False, empty_label="the one with most pairs"
    )
    activity = forms.ModelMultipleChoiceField(
        Activity.objects.none(),
        label="Activities",
        required=False,
        to_field_name="slug",
        help_text="None chosen: all of them.",
        widget=forms.CheckboxSelectMultiple,
    )
    sessions = forms.ChoiceField(label="Sessions", required=False, choices=WAYS, widget=forms.RadioSelect)
    first = day("From")
    last = day("Until")

    def __init__(self, athlete: Athlete, asked: QueryDict) -> None:
        # Nothing asked is nothing wrong: the form is always bound.
        super().__init__(asked, auto_id="compare_%s")
        tested = [sensor.pk for sensor in sensor_comparison.sensors_with_pairs(athlete)]
        straps = [sensor.pk for sensor in sensor_comparison.references(athlete)]
        own = Sensor.objects.of(athlete)
        self._choose_among("sensor", own.filter(pk__in=tested).prefetch_related("firmware"))
        self._choose_among("reference", own.filter(pk__in=straps))
        self._choose_among("activity", sensor_comparison.activities(athlete))
        self.several_references = len(straps) > 1

    def clean_sensor(self) -> Any:
        """Refuse a single sensor: there is nothing to hold it against."""
        chosen = self.cleaned_data["sensor"]
        if len(chosen) == 1:
            raise ValidationError("Choose two sensors or more, or none for all of them.")
        return chosen

    @property
    def wish(self) -> Wish:
        """What is wanted, of a form that is valid."""
        data = self.cleaned_data
        return Wish(
            sensors=list(data["sensor"]),
            reference=data["reference"],
            activities=list(data["activity"]),
            first=data["first"],
            last=data["last"],
            way=Way(data["sessions"]) if data["sessions"] else None,
        )

    def _choose_among(self, name: str, rows: Any) -> None:
        field = self.fields[name]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = rows
