"""Recovery: of now, of the last sessions, and as mornings showed it."""

from __future__ import annotations

from datetime import timedelta

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from trainlog.models import ClaimedRecovery, Workout
from trainlog.services.care import heart_rate_may_mislead
from trainlog.services.recovery import recoveries_between, recovery_now, untold_lately
from trainlog.services.recovery_check import claim_recovery, recovery_check
from trainlog.web.page import accept_or_explain, athlete_of, show

SHOWN_DAYS = 14
"""Days whose sessions are listed."""

CHECKED_ROWS = 10
"""Sessions held against mornings that are open at once."""


class ClaimForm(forms.Form):
    """Hours that a device claimed; left empty, the note is taken back."""

    fed_by = forms.ChoiceField(choices=ClaimedRecovery.FedBy.choices, widget=forms.HiddenInput)
    hours = forms.FloatField(
        required=False,
        min_value=0,
        max_value=240,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"}),
    )


@require_safe
def recovery(request: HttpRequest) -> HttpResponse:
    """Show what recent sessions leave until the next hard one, and how such estimates did."""
    athlete = athlete_of(request)
    if heart_rate_may_mislead(athlete):
        return show(request, "recovery.html")
    today = athlete.today()
    check = recovery_check(athlete, today)
    context = {
        "now": timezone.now(),
        "ready": recovery_now(athlete),
        "untold": untold_lately(athlete),
        "recoveries": recoveries_between(athlete, today - timedelta(days=SHOWN_DAYS), today)[::-1],
        "shown_days": SHOWN_DAYS,
        "checked": check.sessions[:CHECKED_ROWS],
        "counts": {fit: check.counts.get(fit, 0) for fit in ("earlier", "within", "later")},
        "checked_count": len(check.sessions),
    }
    return show(request, "recovery.html", context)


@require_POST
def claimed(request: HttpRequest, pk: int) -> HttpResponse:
    """Note the recovery hours that a device claimed after a workout."""
    workout = get_object_or_404(Workout.objects.of(athlete_of(request)).select_related("owner"), pk=pk)
    form = ClaimForm(request.POST)

    def save() -> None:
        claim_recovery(workout, form.cleaned_data["fed_by"], form.cleaned_data["hours"])

    if accept_or_explain(form, save):
        messages.success(request, "Noted.")
    else:
        reasons = [str(error) for errors in form.errors.values() for error in errors]
        messages.error(request, f"The hours were not noted: {' '.join(reasons)}")
    return redirect("workout", pk)


def claims_shown(hours: dict[str, float]) -> list[tuple[str, str, float | None]]:
    """Kinds of heart rate with their words and the hours claimed from each."""
    return [(kind.value, kind.label, hours.get(kind.value)) for kind in ClaimedRecovery.FedBy]
