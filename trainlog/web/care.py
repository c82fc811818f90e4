"""Keeping what the athlete ticked in private."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from trainlog.models import Care
from trainlog.services.care import save_care
from trainlog.web.page import athlete_of


class CareForm(forms.ModelForm):
    """The ticks."""

    class Meta:
        model = Care
        fields = Care.ticks()


@sensitive_post_parameters()
@require_POST
def care(request: HttpRequest) -> HttpResponse:
    """Keep the ticks, or none of them; a tick is there or not, so nothing can be wrong."""
    clears = "clear" in request.POST
    save_care(athlete_of(request), {} if clears else {name: name in request.POST for name in Care.ticks()})
    messages.success(request, "Every tick is cleared." if clears else "Saved.")
    return redirect(f"{reverse('account')}#mind")
