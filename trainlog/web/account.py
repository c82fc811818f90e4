"""Who the athlete is: time zone, privacy, physiology and password."""

from __future__ import annotations

import zoneinfo

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.forms import PasswordChangeForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from trainlog.models import Activity, Athlete, Family, Physiology, SweepRun
from trainlog.models.athlete import MEASURED_MAXIMUM_ERROR
from trainlog.services.athletes import add_activity, save_settings, set_physiology
from trainlog.services.care import care_of
from trainlog.services.offers import resting_offer
from trainlog.services.stays import stays_of
from trainlog.web.care import CareForm
from trainlog.web.exports import DaysForm
from trainlog.web.forms import AccountForm, NewActivityForm, PhysiologyForm
from trainlog.web.measure import MeasureForm
from trainlog.web.page import UNPROCESSABLE, accept_or_explain, athlete_of, show, whole_number

PASSWORD = "password"


@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def account(request: HttpRequest) -> HttpResponse:
    """Show the account; take its settings, or a new password."""
    athlete = athlete_of(request)
    changes_password = request.POST.get("form") == PASSWORD
    posted = request.POST if request.method == "POST" else None
    # A copy of the row: a refused value must not linger on the request's athlete.
    settings_form = AccountForm(
        posted if not changes_password else None, instance=Athlete.objects.get(pk=athlete.pk)
    )
    password_form = PasswordChangeForm(athlete.user, posted if changes_password else None)
    password_form.fields["old_password"].widget.attrs.pop("autofocus", None)
    form = password_form if changes_password else settings_form
    if posted is not None and form.is_valid():
        if changes_password:
            password_form.save()
            update_session_auth_hash(request, password_form.user)
        else:
            save_settings(settings_form.instance)
        messages.success(request, "The password is changed." if changes_password else "Saved.")
        return redirect("account")
    swept = SweepRun.last()
    context = {
        "settings_form": settings_form,
        "password_form": password_form,
        "rows": Physiology.objects.of(athlete).order_by("-from_day"),
        "stays": stays_of(athlete),
        "zones": sorted(zoneinfo.available_timezones()),
        "families": families(athlete),
        "take": DaysForm(auto_id="take_%s"),
        "resting_offer": resting_offer(athlete, athlete.today()),
        "care_form": CareForm(instance=care_of(athlete)),
        "swept_at": swept.ended_at if swept else None,
        "measure_form": MeasureForm(initial={"measure": athlete.measure}),
    }
    return show(request, "account.html", context, status=200 if posted is None else UNPROCESSABLE)


def families(athlete: Athlete) -> list[tuple[str, list[str]]]:
    """Names of the athlete's activities, by family."""
    activities = list(Activity.objects.of(athlete))
    return [
        (family.label, [row.name for row in activities if row.family == family.value]) for family in Family
    ]


@require_http_methods(["GET", "POST"])
def activity(request: HttpRequest) -> HttpResponse:
    """Add a kind of work of the athlete's own."""
    athlete = athlete_of(request)
    form = NewActivityForm(request.POST if request.method == "POST" else None)
    if form.is_bound and accept_or_explain(
        form, lambda: add_activity(athlete, form.cleaned_data["name"], form.cleaned_data["family"])
    ):
        messages.success(request, f"{form.cleaned_data['name']} is added.")
        return redirect("account")
    return show(request, "activity.html", {"form": form}, status=UNPROCESSABLE if form.is_bound else 200)


@require_http_methods(["GET", "POST"])
def physiology(request: HttpRequest) -> HttpResponse:
    """Add a dated physiology, or change the one named by ``row``."""
    athlete = athlete_of(request)
    row = request.POST.get("row") or request.GET.get("row") or ""
    instance = None
    if row:
        instance = get_object_or_404(Physiology.objects.of(athlete), pk=whole_number(row))
    initial = {} if instance else _proposal(athlete) | _offered(request)
    form = PhysiologyForm(request.POST or None, instance=instance, initial=initial)
    if request.method == "POST" and accept_or_explain(form, lambda: set_physiology(athlete, form.instance)):
        messages.success(request, "Saved. Loads that it touches are being estimated anew.")
        return redirect("account")
    status = UNPROCESSABLE if request.method == "POST" else 200
    return show(request, "physiology.html", {"form": form, "row": instance}, status=status)


def _offered(request: HttpRequest) -> dict[str, object]:
    """What an offer puts into a new row, for the athlete to look at before it is saved."""
    offered: dict[str, object] = {
        name: request.GET[name]
        for name in ("from_day", "resting_rate", "maximum_rate")
        if name in request.GET
    }
    if "maximum_rate" in offered:
        offered["maximum_source"] = Physiology.MaximumSource.MEASURED
        offered["maximum_error"] = MEASURED_MAXIMUM_ERROR
    return offered


def _proposal(athlete: Athlete) -> dict[str, object]:
    """First values of a new row: the newest one's, from today on."""
    today = athlete.today()
    newest = Physiology.objects.of(athlete).order_by("-from_day").first()
    if newest is None:
        return {"from_day": today}
    fields = PhysiologyForm.Meta.fields
    return {name: getattr(newest, name) for name in fields} | {"from_day": today}
