"""What was deleted lately: putting it back, or deleting it for good."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import models
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from trainlog.models import (
    CheckIn,
    Deletion,
    LiftSet,
    PlannedSession,
    Stay,
    UnknownDay,
    WeekPlan,
    Workout,
)
from trainlog.services.deletions import delete_for_good, deletions_of, until
from trainlog.services.undo import undo
from trainlog.web.page import athlete_of, show


def say_deleted(request: HttpRequest, deletion: Deletion, more: str = "") -> None:
    """Have the next page say what was deleted, with a button that puts it back."""
    said = f"Deleted: {deletion.what}."
    messages.success(request, f"{said} {more}".strip(), extra_tags=str(deletion.pk))


@require_safe
def deleted(request: HttpRequest) -> HttpResponse:
    """List what can be put back."""
    now = timezone.now()
    rows = [
        {"deletion": row, "until": until(row), "days": (until(row) - now).days}
        for row in deletions_of(athlete_of(request))
    ]
    return show(request, "deleted.html", {"rows": rows})


@require_POST
def put_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo a deletion, and show what came back."""
    try:
        done = undo(_deletion(request, pk))
    except ValidationError as refusal:
        messages.error(request, f"Nothing was put back. {' '.join(refusal.messages)}")
        return redirect("deleted")
    messages.success(request, f"Put back: {done.what}. {done.remark}".strip())
    return redirect(_place_of(done.row))


@require_http_methods(["GET", "POST"])
def for_good(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask first; then forget what was deleted, with the original files."""
    found = _deletion(request, pk)
    if request.method == "POST":
        what = found.what
        delete_for_good(found)
        messages.success(request, f"Deleted for good: {what}.")
        return redirect("deleted")
    return show(request, "delete_for_good.html", {"deletion": found, "until": until(found)})


def _deletion(request: HttpRequest, pk: int) -> Deletion:
    rows = deletions_of(athlete_of(request)).select_related("owner")
    return get_object_or_404(rows, pk=pk)


def _place_of(row: models.Model) -> str:
    """Page on which a row that was put back is seen."""
    if isinstance(row, Workout):
        return reverse("workout", args=[row.pk])
    if isinstance(row, LiftSet):
        return f"{reverse('workout', args=[row.part.workout_id])}#sets-{row.part_id}"
    if isinstance(row, CheckIn):
        return f"{reverse('check_in')}?day={row.day.isoformat()}"
    if isinstance(row, PlannedSession | UnknownDay):
        return reverse("week", args=[row.day])
    if isinstance(row, WeekPlan):
        return reverse("week", args=[row.monday])
    return reverse("account") if isinstance(row, Stay) else reverse("log")
