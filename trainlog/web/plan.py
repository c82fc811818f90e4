"""The plan: a load for a week, and sessions on days, each kept by a short form."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from trainlog.models import Athlete, Measure, PlannedSession, WeekPlan
from trainlog.sensible_days import EARLIEST_DAY, LATEST_DAY
from trainlog.services import plan as plans
from trainlog.services.lines import WEEK, monday_of
from trainlog.services.plan import (
    PlanOfWeek,
    clear_range,
    lately,
    plan_of_week,
    range_of,
    repeat_week,
    save_session,
    set_range,
)
from trainlog.services.plan_export import plan_as_icalendar
from trainlog.web.deleted import say_deleted
from trainlog.web.forms import activities_of
from trainlog.web.page import accept_or_explain, athlete_of, show
from trainlog.web.seen import SeenMixin, one_at_a_time

ADD = "Plan this session"


def bound(label: str) -> forms.FloatField:
    """Field for one end of a planned load."""
    attributes = {"inputmode": "decimal", "step": "any", "min": "0", "autocomplete": "off"}
    return forms.FloatField(label=label, required=False, widget=forms.NumberInput(attrs=attributes))


class RangeForm(SeenMixin, forms.Form):
    """Load meant for a week; one end is enough."""

    low = bound("Load at least")
    high = bound("Load at most")
    note = forms.CharField(
        label="Note", required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, plan: WeekPlan | None, *args: Any, **kwargs: Any) -> None:
        if plan:
            # 300 and not 300.0, as it was typed.
            ends = {name: getattr(plan, name) for name in ("low", "high")}
            kwargs["initial"] = {"note": plan.note} | {
                name: None if value is None else f"{value:g}" for name, value in ends.items()
            }
        super().__init__(*args, **kwargs)


class PlannedSessionForm(SeenMixin, forms.Form):
    """A session meant for a day."""

    day = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    minutes = forms.IntegerField(
        label="Minutes", required=False, widget=forms.NumberInput(attrs={"inputmode": "numeric", "min": "1"})
    )
    hard = forms.BooleanField(label="Meant to be hard", required=False)
    note = forms.CharField(label="Note", required=False, max_length=400)

    def __init__(self, athlete: Athlete, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["activity"] = activities_of(athlete)
        self.order_fields(["day", "activity", "minutes", "hard", "note"])

    def clean_day(self) -> date:
        """Refuse a day from which weeks cannot be counted."""
        day: date = self.cleaned_data["day"]
        if not EARLIEST_DAY <= day <= LATEST_DAY:
            raise ValidationError("Plan for a day between 1970 and 2999.")
        return day


def plan_context(athlete: Athlete, day: date, today: date) -> dict[str, Any]:
    """What the week's page needs for its plan: the plan itself, and two empty forms."""
    plan = plan_of_week(athlete, day, today)
    first_free = today if plan.running else plan.monday
    return {
        "plan": plan,
        "plan_highest": highest_planned(plan),
        "range_form": RangeForm(plan.range, auto_id="range_%s"),
        "session_form": PlannedSessionForm(athlete, initial={"day": first_free}, auto_id="session_%s"),
    }


def highest_planned(plan: PlanOfWeek) -> float:
    """Load at the right end of the drawing of a plan: room for the range and for what came of it."""
    ends = [plan.load.high] if plan.load else []
    if plan.range and plan.range.high is not None:
        ends.append(plan.range.high)
    elif plan.range and plan.range.low is not None:
        # A range without an upper end is drawn on to the edge.
        ends.append(1.4 * plan.range.low)
    return 1.15 * max([*ends, 1.0])


@require_http_methods(["GET", "POST"])
@one_at_a_time
def week_plan(request: HttpRequest, day: date) -> HttpResponse:
    """Set or clear the load planned for a week."""
    athlete = athlete_of(request)
    monday = _monday(day)
    posted = _posted(request)
    if posted is not None and "clear" in posted:
        cleared = clear_range(athlete, monday)
        if cleared:
            say_deleted(request, cleared)
        return redirect("week", monday)
    form = RangeForm(range_of(athlete, monday), posted)
    if posted is not None and accept_or_explain(
        form, lambda: set_range(athlete, monday, **form.cleaned_data)
    ):
        messages.success(request, "The load planned for this week is saved.")
        return redirect("week", monday)
    title = "Load planned for a week"
    unit = Measure(athlete.measure).label
    return _form(request, form, monday, title=title, button="Save", unit=unit, lately=lately(athlete, monday))


@require_http_methods(["GET", "POST"])
def new_session(request: HttpRequest, day: date) -> HttpResponse:
    """Plan a session."""
    athlete = athlete_of(request)
    monday = _monday(day)
    form = PlannedSessionForm(athlete, _posted(request), initial={"day": day})
    return _keep_session(request, form, PlannedSession(owner=athlete), monday, "Plan a session", ADD)


@require_http_methods(["GET", "POST"])
@one_at_a_time
def planned_session(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a planned session."""
    athlete = athlete_of(request)
    session = get_object_or_404(PlannedSession.objects.of(athlete), pk=pk)
    initial = {name: getattr(session, name) for name in ("day", "activity", "minutes", "hard", "note")}
    form = PlannedSessionForm(athlete, _posted(request), initial=initial)
    return _keep_session(request, form, session, monday_of(session.day), "Planned session", "Save")


@require_POST
def delete_session(request: HttpRequest, pk: int) -> HttpResponse:
    """Plan a session no more."""
    rows = PlannedSession.objects.of(athlete_of(request)).select_related("owner", "activity")
    session = get_object_or_404(rows, pk=pk)
    say_deleted(request, plans.delete_session(session))
    return redirect("week", monday_of(session.day))


@require_POST
def same_again(request: HttpRequest, day: date) -> HttpResponse:
    """Plan the next week like this one, and show it."""
    monday = _monday(day)
    try:
        made = repeat_week(athlete_of(request), monday)
    except ValidationError as refusal:
        messages.error(request, " ".join(refusal.messages))
        return redirect("week", monday)
    sessions = f"{made.sessions} session{'' if made.sessions == 1 else 's'}"
    stands = " The load planned for this week before stands as it was." if made.kept_ranges else ""
    messages.success(request, f"Planned like the week before: {sessions} added.{stands}")
    return redirect("week", monday + WEEK)


@require_safe
def plan_file(request: HttpRequest) -> HttpResponse:
    """Download the planned sessions as an iCalendar file."""
    return HttpResponse(
        plan_as_icalendar(athlete_of(request)),
        content_type="text/calendar; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="plan.ics"'},
    )


def _keep_session(
    request: HttpRequest,
    form: PlannedSessionForm,
    session: PlannedSession,
    monday: date,
    title: str,
    button: str,
) -> HttpResponse:
    if form.is_bound and accept_or_explain(form, lambda: save_session(session, form.cleaned_data)):
        messages.success(request, "The planned session is saved.")
        return redirect("week", monday_of(session.day))
    return _form(request, form, monday, title=title, button=button, session=session)


def _form(
    request: HttpRequest, form: RangeForm | PlannedSessionForm, monday: date, **context: Any
) -> HttpResponse:
    return show(request, "plan_form.html", {"form": form, "monday": monday} | context, status=form.status)


def _posted(request: HttpRequest) -> QueryDict | None:
    return request.POST if request.method == "POST" else None


def _monday(day: date) -> date:
    if not EARLIEST_DAY <= day <= LATEST_DAY:
        raise Http404("no such week")
    return monday_of(day)
