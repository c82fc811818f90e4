"""Tokens for programs: made, listed, revoked."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from trainlog.models import ApiToken
from trainlog.services.tokens import DAYS, NewToken, make_token, revoke, tokens_of
from trainlog.web.page import UNPROCESSABLE, accept_or_explain, athlete_of, own_log_only, show

IN_WORDS = {30: "30 days", 90: "90 days", 365: "a year"}


class TokenForm(forms.Form):
    """For which program, what it may do, and for how long."""

    name = forms.CharField(label="Which program it is for", max_length=60)
    scope = forms.ChoiceField(label="It may", choices=ApiToken.Scope, initial=ApiToken.Scope.READ)
    days = forms.TypedChoiceField(
        label="Valid for", coerce=int, choices=[(days, IN_WORDS[days]) for days in DAYS], initial=90
    )


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@own_log_only
def programs(request: HttpRequest) -> HttpResponse:
    """List tokens; make one, and show what it says this once."""
    athlete = athlete_of(request)
    form = TokenForm(request.POST if request.method == "POST" else None)
    made: list[NewToken] = []
    refused = form.is_bound and not accept_or_explain(
        form, lambda: made.append(make_token(athlete, **form.cleaned_data))
    )
    context = {
        "form": form if refused or not form.is_bound else TokenForm(),
        "made": made[0] if made else None,
        "tokens": tokens_of(athlete),
        "now": timezone.now(),
    }
    return show(request, "programs.html", context, status=UNPROCESSABLE if refused else 200)


@require_POST
@own_log_only
def revoke_token(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a token back."""
    token = get_object_or_404(ApiToken.objects.of(athlete_of(request)), pk=pk)
    revoke(token)
    messages.success(request, f"The token of {token.name} is revoked; it opens nothing any more.")
    return redirect("programs")
