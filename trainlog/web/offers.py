"""Declining an offered figure of physiology."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from trainlog.models import DeclinedOffer
from trainlog.services.offers import decline_offer
from trainlog.web.page import accept_or_explain, athlete_of


class DeclineForm(forms.Form):
    """Which figure is not wanted."""

    kind = forms.ChoiceField(choices=DeclinedOffer.Kind)
    value = forms.FloatField()


@require_POST
def decline(request: HttpRequest) -> HttpResponse:
    """Note that an offered figure is not wanted."""
    form = DeclineForm(request.POST)
    if accept_or_explain(
        form,
        lambda: decline_offer(athlete_of(request), form.cleaned_data["kind"], form.cleaned_data["value"]),
    ):
        messages.success(request, "Left as it is.")
    else:
        messages.error(request, "There is no such offer; nothing was changed.")
    return redirect("account")
