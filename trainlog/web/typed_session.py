"""A session that left no file, logged in a few taps on a phone."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from trainlog.load.session_rpe import HIGHEST_RATING
from trainlog.models import Activity, Athlete, Workout
from trainlog.services.edit_workout import LONGEST_WORKOUT_MINUTES
from trainlog.services.stays import stays_of
from trainlog.services.tags import tags_in, used_tags
from trainlog.services.typed_session import (
    LIFTED,
    just_ended,
    last_activity,
    log_session,
    offered_minutes,
    usual_minutes,
)
from trainlog.web import words
from trainlog.web.forms import LONGEST_NOTE, NoteForm, activities_of
from trainlog.web.page import UNPROCESSABLE, accept_or_explain, athlete_of, show, whole_number

RATINGS = [*((str(rating), str(rating)) for rating in range(HIGHEST_RATING + 1)), ("", "not rated")]
ANCHORS = ("0 no effort", "3 comfortable", "6 demanding", "10 nothing left")
"""Words of our own at a few ratings, for whoever rates by them."""

STAYS_NAMED = 3
"""Of the last stays, whose clocks a typed time goes by."""


class TypedSessionForm(forms.Form):
    """A session that left no file; it has just ended, unless a time is given."""

    usual = forms.TypedChoiceField(
        label="How long?", required=False, coerce=int, empty_value=None, widget=forms.RadioSelect
    )
    minutes = forms.FloatField(
        label="or other minutes",
        required=False,
        min_value=1,
        max_value=LONGEST_WORKOUT_MINUTES,
        widget=forms.NumberInput(attrs={"inputmode": "numeric", "step": "any", "autocomplete": "off"}),
    )
    session_rpe = forms.TypedChoiceField(
        label="How hard was all of it?",
        choices=RATINGS,
        required=False,
        coerce=float,
        empty_value=None,
        widget=forms.RadioSelect,
    )
    time = forms.TimeField(
        label="Began at",
        required=False,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    )
    day = forms.DateField(
        label="Day",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    note = forms.CharField(
        label="Note", required=False, max_length=LONGEST_NOTE, widget=forms.Textarea(attrs={"rows": 2})
    )
    tags = NoteForm.base_fields["tags"]

    def __init__(self, athlete: Athlete, activity: Activity | None, posted: Any = None) -> None:
        usual = usual_minutes(athlete, activity)
        super().__init__(posted, initial={"activity": activity, "usual": usual, "session_rpe": ""})
        self.athlete = athlete
        self.fields["activity"] = activities_of(athlete)
        self.fields["activity"].widget.attrs |= {
            "hx-get": reverse("typed_workout"),
            "hx-select": "#length",
            "hx-target": "#length",
            "hx-swap": "outerHTML",
        }
        offered = [(str(minutes), f"{minutes} min") for minutes in offered_minutes(usual)]
        length = self.fields["usual"]
        if isinstance(length, forms.ChoiceField):
            # What was offered for the activity chosen before may still be sent.
            sent = self.data.get("usual", "")
            length.choices = (
                offered
                if sent in dict(offered) or whole_number(sent, LONGEST_WORKOUT_MINUTES) is None
                else [
                    *offered,
                    (sent, f"{sent} min"),
                ]
            )

    def clean(self) -> dict[str, Any]:
        """Take the typed length before the tapped one, and ask for one if there is neither."""
        data = self.cleaned_data
        if not self.errors.keys() & {"minutes", "usual"}:
            data["minutes"] = data.get("minutes") or data.get("usual")
            if data["minutes"] is None:
                raise ValidationError({"minutes": "Choose how long it was, or type the minutes."})
        if data.get("day") and not data.get("time") and "time" not in self.errors:
            raise ValidationError({"time": "Say when it began, or leave the day empty if it has just ended."})
        return data

    @property
    def start(self) -> datetime:
        """Instant at which the session began."""
        data = self.cleaned_data
        if data["time"] is None:
            return just_ended(data["minutes"])
        day = data["day"] or self.athlete.today()
        return datetime.combine(day, data["time"], tzinfo=self.athlete.whereabouts().zone_on(day))

    @property
    def another_time(self) -> bool:
        """Whether the fields of another time have something to show."""
        return any(self[name].value() or self[name].errors for name in ("day", "time"))

    @property
    def more(self) -> bool:
        """Whether the further fields have something to show."""
        return any(self[name].value() or self[name].errors for name in ("note", "tags"))


@require_http_methods(["GET", "POST"])
def typed_session(request: HttpRequest) -> HttpResponse:
    """Log a session that left no file."""
    athlete = athlete_of(request)
    posted = request.POST if request.method == "POST" else None
    form = TypedSessionForm(athlete, _activity(request, athlete), posted)
    made: list[Workout] = []

    def save() -> None:
        data = form.cleaned_data
        made.append(
            log_session(
                athlete,
                form.start,
                data["minutes"],
                data["activity"],
                data["session_rpe"],
                data["note"],
                tags_in(data["tags"]),
            )
        )

    if posted is not None and accept_or_explain(form, save):
        return _logged(request, made[0], form.cleaned_data["activity"])
    context = {
        "form": form,
        "anchors": ANCHORS,
        "offered_tags": used_tags(athlete),
        "stays": stays_of(athlete)[:STAYS_NAMED],
    }
    return show(request, "typed_workout.html", context, status=200 if posted is None else UNPROCESSABLE)


def _logged(request: HttpRequest, workout: Workout, activity: Activity) -> HttpResponse:
    """On to the log; to the sets where there may be some."""
    there = f" ({words.time_there(workout.time_zone)})" if workout.time_zone else ""
    logged = f"Logged for {workout.local_start:%H:%M} on {workout.day:%A}{there}."
    if activity.family not in LIFTED:
        messages.success(request, logged)
        return redirect("log")
    messages.success(request, f"{logged} Add its sets?")
    return redirect(f"{reverse('workout', args=[workout.pk])}#sets-{workout.parts.get().pk}")


def _activity(request: HttpRequest, athlete: Athlete) -> Activity | None:
    """Activity that is chosen, else the last one trained, else the first there is."""
    chosen = (request.POST.get("activity") or request.GET.get("activity") or "").strip()
    activities = Activity.objects.of(athlete)
    asked = activities.filter(pk=whole_number(chosen) or 0).first()
    return asked or last_activity(athlete) or activities.first()
