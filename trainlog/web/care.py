"""What the athlete ticks in private."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from trainlog.models import Care
from trainlog.services.care import care_of, save_care
from trainlog.web.page import athlete_of, show
from trainlog.web.seen import SeenMixin, one_at_a_time


class CareForm(SeenMixin, forms.ModelForm):
    """The ticks."""

    class Meta:
        model = Care
        fields = Care.ticks()


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
@one_at_a_time
def care(request: HttpRequest) -> HttpResponse:
    """Show the ticks; keep them, or none. A tick is there or not, so nothing but its age can be wrong."""
    athlete = athlete_of(request)
    if request.method != "POST":
        return show(request, "care.html", {"form": CareForm(instance=care_of(athlete))})
    clears = "clear" in request.POST
    # Clearing takes every tick back, whichever they are by now.
    form = CareForm(request.POST, instance=care_of(athlete))
    if not clears and not form.is_valid():
        return show(request, "care.html", {"form": form}, status=form.status)
    save_care(athlete, {} if clears else {name: name in request.POST for name in Care.ticks()})
    messages.success(request, "Every tick is cleared." if clears else "Saved.")
    return redirect("care")
