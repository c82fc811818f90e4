"""Who the athlete is: physiology, settings, password, and the way to all other sections."""

from __future__ import annotations

import zoneinfo

from django.conf import settings as site
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.forms import PasswordChangeForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from trainlog.models import Activity, Athlete, Family, Measure, Physiology, SweepRun, Workout
from trainlog.models.athlete import MEASURED_MAXIMUM_ERROR
from trainlog.services import second_step
from trainlog.services.athletes import add_activity, log_of, save_settings, set_physiology
from trainlog.services.offers import resting_offer
from trainlog.services.sign_ins import end_others, sign_ins_of
from trainlog.services.stays import stays_of
from trainlog.services.tokens import tokens_of
from trainlog.web.forms import AccountForm, NewActivityForm, PhysiologyForm
from trainlog.web.page import (
    UNPROCESSABLE,
    accept_or_explain,
    athlete_of,
    own_log_only,
    show,
    whole_number,
)
from trainlog.web.seen import one_at_a_time
from trainlog.web.sign_ins import own_key


@require_safe
def account(request: HttpRequest) -> HttpResponse:
    """Show physiology, and a line on each of the other sections with what it stands at."""
    athlete = athlete_of(request)
    context = {
        "rows": Physiology.objects.of(athlete).order_by("-from_day"),
        "resting_offer": resting_offer(athlete, athlete.today()),
        "groups": sections(athlete),
    }
    return show(request, "account.html", context)


def sections(athlete: Athlete) -> list[tuple[str, list[tuple[str, str, str]]]]:
    """Sections of the account in groups: words, the name of its address, and what it stands at."""
    stays, tokens = len(stays_of(athlete)), tokens_of(athlete).count()
    positions = "places are kept" if athlete.keep_positions else "places are left out"
    person = athlete.demo_for or athlete.user
    coded, browsers = second_step.is_on(person), sign_ins_of(log_of(person)).count()
    near = f"near is within {athlete.near_per_cent}%"
    return [
        (
            "How it is shown",
            [
                ("Measure of load", "choose_measure", Measure(athlete.measure).label),
                ("Settings", "settings", f"{athlete.time_zone} at home, {near}, {positions}"),
            ],
        ),
        (
            "About you",
            [
                ("What to mind", "care", "private ticks that change wording and withhold advice"),
                ("Away from home", "stays", _counted(stays, "stay") if stays else "no stay elsewhere"),
                (
                    "Activities",
                    "activities",
                    _counted(Activity.objects.of(athlete).count(), "kind") + " of work",
                ),
            ],
        ),
        (
            "Sign-in and programs",
            [
                ("Password", "password", "change it"),
                ("Second step", "second_step", "a code is asked for" if coded else "no code is asked for"),
                ("Sign-ins", "sign_ins", "you are signed in in " + _counted(browsers, "browser")),
                ("Programs", "programs", _counted(tokens, "token") if tokens else "no program has a token"),
            ],
        ),
        (
            "Your data",
            [
                ("Privacy", "privacy", "what is kept, where, and who can read it"),
                ("Take it with you", "take", "tables, or everything in one file; import one"),
                ("Deleted lately", "deleted", "what can still be put back"),
                ("Demo", "demo", "an invented log apart from yours"),
                ("Delete everything", "delete_everything", "rows and files, for good"),
            ],
        ),
    ]


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


@require_http_methods(["GET", "HEAD", "POST"])
@one_at_a_time
def settings(request: HttpRequest) -> HttpResponse:
    """Show time zone, privacy and how near a load must be, or keep them."""
    athlete = athlete_of(request)
    # A copy of the row: a refused value must not linger on the request's athlete.
    row = Athlete.objects.get(pk=athlete.pk)
    form = AccountForm(request.POST if request.method == "POST" else None, instance=row)
    if form.is_bound and form.is_valid():
        save_settings(form.instance)
        messages.success(request, "Saved.")
        return redirect("account")
    swept = SweepRun.last()
    context = {
        "form": form,
        "zones": sorted(zoneinfo.available_timezones()),
        "swept_at": swept.ended_at if swept else None,
    }
    return show(request, "settings.html", context, status=form.status)


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
@own_log_only
def password(request: HttpRequest) -> HttpResponse:
    """Change the password; one stays signed in here, and is signed out everywhere else."""
    form = PasswordChangeForm(athlete_of(request).user, request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        form.save()
        update_session_auth_hash(request, form.user)
        end_others(athlete_of(request), own_key(request))
        messages.success(request, "The password is changed.")
        return redirect("account")
    return show(request, "password.html", {"form": form}, status=UNPROCESSABLE if form.is_bound else 200)


@require_safe
def privacy(request: HttpRequest) -> HttpResponse:
    """Say what is kept, where, and who can read it."""
    return show(request, "privacy.html", {"folder": site.DATA_FOLDER})


@require_safe
def activities(request: HttpRequest) -> HttpResponse:
    """List the athlete's kinds of work."""
    return show(request, "activities.html", {"families": families(athlete_of(request))})


def families(athlete: Athlete) -> list[tuple[str, list[str]]]:
    """Names of the athlete's activities, by family."""
    activities = list(Activity.objects.of(athlete))
    return [
        (family.label, [row.name for row in activities if row.family == family.value]) for family in Family
    ]


@require_http_methods(["GET", "HEAD", "POST"])
def activity(request: HttpRequest) -> HttpResponse:
    """Add a kind of work of the athlete's own."""
    athlete = athlete_of(request)
    form = NewActivityForm(request.POST if request.method == "POST" else None)
    if form.is_bound and accept_or_explain(
        form, lambda: add_activity(athlete, form.cleaned_data["name"], form.cleaned_data["family"])
    ):
        messages.success(request, f"{form.cleaned_data['name']} is added.")
        return redirect("activities")
    return show(request, "activity.html", {"form": form}, status=UNPROCESSABLE if form.is_bound else 200)


@require_http_methods(["GET", "POST"])
@one_at_a_time
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
        # On a first run the next step stands in the log.
        return redirect("account" if Workout.objects.of(athlete).exists() else "log")
    return show(request, "physiology.html", {"form": form, "row": instance}, status=form.status)


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
