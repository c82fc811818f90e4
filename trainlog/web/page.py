"""Showing a page in the athlete's own time zone."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from django.core.exceptions import ValidationError
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.functional import SimpleLazyObject

from trainlog.models import Athlete
from trainlog.services.care import care_of
from trainlog.services.lines import shown_measure

UNPROCESSABLE = 422


def show(
    request: HttpRequest, template: str, context: Mapping[str, Any] | None = None, *, status: int = 200
) -> HttpResponse:
    """Render a template with every instant in the athlete's time zone, worded by what they want minded."""
    athlete = athlete_of(request)
    # Asked for by the few pages that need them, and then once.
    shared = {
        "shown_measure": cache(lambda: shown_measure(athlete)),
        "care": SimpleLazyObject(lambda: care_of(athlete)),
    }
    with timezone.override(athlete.zone):
        return render(request, template, shared | dict(context or {}), status=status)


def athlete_of(request: HttpRequest) -> Athlete:
    """Athlete who has signed in; the middleware lets nobody else reach a page."""
    athlete: Athlete = request.athlete  # type: ignore[attr-defined]
    return athlete


def add_errors(form: BaseForm, refusal: ValidationError) -> None:
    """Put what a service refused beside the fields it speaks of, else above the form."""
    if not hasattr(refusal, "error_dict"):
        form.add_error(None, refusal)
        return
    for name, errors in refusal.error_dict.items():
        form.add_error(name if name in form.fields else None, ValidationError(errors))


def accept_or_explain(form: BaseForm, save: Any) -> bool:
    """Whether a valid form was saved; a refusal of the service ends up on the form."""
    if not form.is_valid():
        return False
    try:
        save()
    except ValidationError as refusal:
        add_errors(form, refusal)
        return False
    return True
