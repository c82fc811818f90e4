"""Showing a page in the athlete's own time zone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any

from django.core.exceptions import ValidationError
from django.forms import BaseForm
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.utils.functional import SimpleLazyObject

from trainlog.models import Athlete, Measure
from trainlog.services.care import care_of

UNPROCESSABLE = 422
CONFLICT = 409
SAFE = frozenset({"GET", "HEAD"})

FURTHEST_PAGE = 2000

GREATEST_KEY = 2**63 - 1


def show(
    request: HttpRequest, template: str, context: Mapping[str, Any] | None = None, *, status: int = 200
) -> HttpResponse:
    """Render a template with every instant in the athlete's time zone, worded by what they want minded."""
    athlete = athlete_of(request)
    shared = {
        "shown_measure": Measure(athlete.measure),
        # Asked for by the few pages that need it, and then once.
        "care": SimpleLazyObject(lambda: care_of(athlete)),
    }
    with timezone.override(athlete.zone):
        return render(request, template, shared | dict(context or {}), status=status)


def athlete_of(request: HttpRequest) -> Athlete:
    """Athlete who has signed in; the middleware lets nobody else reach a page."""
    athlete: Athlete = request.athlete  # type: ignore[attr-defined]
    return athlete


def own_log_only(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """Keep a page that is about the person's own log from being taken for one about the demo."""

    @wraps(view)
    def of_own_log(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if athlete_of(request).demo_for_id is None:
            return view(request, *args, **kwargs)
        return show(request, "own_log_only.html", status=200 if request.method in SAFE else CONFLICT)

    return of_own_log


def whole_number(text: str, most: int = GREATEST_KEY) -> int | None:
    """Whole number from 0 on that an address or a form gives as text; None for anything else."""
    # What is longer is greater, or not worth the time that reading it would take.
    number = int(text) if text.isdecimal() and len(text) <= len(str(most)) else None
    return None if number is None or number > most else number


def page_number(request: HttpRequest) -> int:
    """Page of a long list that is asked for; the first is 0.

    Raises
    ------
    Http404
        If there can be no such page.
    """
    number = whole_number(request.GET.get("page", "0"), FURTHEST_PAGE)
    if number is None:
        raise Http404("no such page")
    return number


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
