"""Changing several workouts of the log at once: one form around its list."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from trainlog.models import Activity, Athlete, Sensor, Workout
from trainlog.services.bulk_edit import MOST_AT_ONCE, Change, change_workouts
from trainlog.services.delete_workouts import delete_workouts
from trainlog.services.tags import LONGEST_TAG, MOST_TAGS, tags_in, used_tags
from trainlog.web.deleted import say_deleted
from trainlog.web.page import athlete_of, whole_number

NOT_KNOWN = "0"


class SeveralForm(forms.Form):
    """What to change; each button reads its own fields."""

    tags = forms.CharField(
        label="Tags, separated by commas",
        required=False,
        max_length=MOST_TAGS * (LONGEST_TAG + 2),
        widget=forms.TextInput(attrs={"list": "own-tags", "autocomplete": "off", "autocapitalize": "none"}),
    )

    def __init__(self, athlete: Athlete, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs | {"auto_id": "several_%s"})
        sensors = {str(row.pk): row for row in Sensor.objects.of(athlete)}
        named = [(key, row.name) for key, row in sensors.items()] + [(NOT_KNOWN, "not known")]
        self.sensors: dict[str, Sensor | None] = {**sensors, NOT_KNOWN: None}
        self.fields["activity"] = forms.ModelChoiceField(
            Activity.objects.of(athlete), label="Activity", required=False, empty_label="choose…"
        )
        choose = ("", "choose…")
        self.fields["sensor_from"] = forms.ChoiceField(
            label="Sensor named now", required=False, choices=[choose, *named]
        )
        self.fields["sensor_to"] = forms.ChoiceField(
            label="Right sensor", required=False, choices=[choose, *named]
        )
        self.own_tags = used_tags(athlete)

    def change(self, what: str) -> Change:
        """What one of the buttons asks for.

        Raises
        ------
        ValidationError
            If its fields are empty.
        """
        data = self.cleaned_data
        if what == "activity" and data["activity"]:
            return Change(activity=data["activity"])
        if what == "sensor" and data["sensor_from"] and data["sensor_to"]:
            return Change(
                moves_sensor=True,
                sensor_from=self.sensors[data["sensor_from"]],
                sensor_to=self.sensors[data["sensor_to"]],
            )
        tags = tags_in(data["tags"])
        if what == "add-tags" and tags:
            return Change(add_tags=tags)
        if what == "remove-tags" and tags:
            return Change(remove_tags=tags)
        raise ValidationError("Fill in what stands beside the button first.")


@require_POST
def several(request: HttpRequest) -> HttpResponse:
    """Change or delete the chosen workouts, and say what was done and what was not."""
    athlete = athlete_of(request)
    asked_for = (whole_number(text) for text in request.POST.getlist("workout")[: MOST_AT_ONCE + 1])
    keys = {key for key in asked_for if key is not None}
    chosen = list(Workout.objects.of(athlete).filter(pk__in=keys))
    try:
        if request.POST.get("do") == "delete":
            if not chosen:
                raise ValidationError("Choose at least one workout first.")
            say_deleted(request, delete_workouts(athlete, chosen))
        else:
            _change(request, athlete, chosen)
    except ValidationError as refusal:
        messages.error(request, f"Nothing was changed. {' '.join(refusal.messages)}")
    asked = request.POST.get("back", "")
    return redirect(f"{reverse('log')}?{asked}" if asked else "log")


def _change(request: HttpRequest, athlete: Athlete, chosen: list[Workout]) -> None:
    form = SeveralForm(athlete, request.POST)
    if not form.is_valid():
        raise ValidationError([text for texts in form.errors.values() for text in texts])
    summary = change_workouts(athlete, chosen, form.change(request.POST.get("do", "")))
    for sentence in summary.done:
        messages.success(request, sentence)
    if not summary.done:
        messages.info(request, "Nothing was changed.")
    for sentence in summary.left:
        messages.info(request, sentence)
