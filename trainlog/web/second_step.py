"""The second step of the sign-in: asked for, set up, turned off."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from axes.handlers.proxy import AxesProxyHandler
from django import forms
from django.contrib import messages
from django.contrib.auth import authenticate
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import User
from django.contrib.auth.signals import user_login_failed
from django.contrib.auth.views import LoginView, RedirectURLMixin
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import rotate_token
from django.shortcuts import redirect, render, resolve_url
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.safestring import mark_safe
from django.views import View
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from trainlog.services import second_step, sign_ins
from trainlog.web.page import UNPROCESSABLE, athlete_of, own_log_only, show
from trainlog.web.sign_ins import note, own_key


class CodeForm(forms.Form):
    """A code; many wrong ones lock as wrong passwords do."""

    code = forms.CharField(
        label="Code",
        max_length=20,
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )

    def __init__(
        self, request: HttpRequest, user: User, accept: Callable[[User, str], Any], data: Any = None
    ) -> None:
        super().__init__(data)
        self.request, self.user, self.accept = request, user, accept
        self.accepted: Any = None

    def clean(self) -> dict[str, Any]:
        """Have the code accepted once all else is right, so that none is used up in vain."""
        if not self.errors:
            self._have_accepted(self.cleaned_data["code"])
        return self.cleaned_data

    def _have_accepted(self, code: str) -> None:
        credentials = {"username": self.user.get_username()}
        if not AxesProxyHandler.is_allowed(self.request, credentials):
            self.request.axes_locked_out = True  # type: ignore[attr-defined]
            self.request.axes_credentials = credentials  # type: ignore[attr-defined]
            self.add_error("code", "Wait a quarter of an hour.")
            return
        try:
            self.accepted = self.accept(self.user, code)
        except ValidationError as refusal:
            self.add_error("code", refusal)
            if refusal.code != second_step.HASTE:
                user_login_failed.send(sender=__name__, credentials=credentials, request=self.request)


class PasswordForm(forms.Form):
    """The password, so that nobody changes the sign-in from a browser left open."""

    password = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, request: HttpRequest, user: User, data: Any = None) -> None:
        super().__init__(data)
        self.request, self.user = request, user

    def clean_password(self) -> str:
        """Refuse a wrong one; many lock as they do at the sign-in."""
        password: str = self.cleaned_data["password"]
        if authenticate(self.request, username=self.user.get_username(), password=password) != self.user:
            raise ValidationError("That is not your password.")
        return password


class PasswordAndCodeForm(CodeForm):
    """Both, to turn the second step off or to have new codes."""

    password = PasswordForm.base_fields["password"]
    clean_password = PasswordForm.clean_password
    field_order = ["password", "code"]


class SignIn(LoginView):
    """Ask for name and password, and lead on to the code where one is asked."""

    template_name = "sign_in.html"

    def get_success_url(self) -> str:
        """Where the person wanted to go, by way of the code if need be."""
        wanted = super().get_success_url()
        if second_step.is_on(self.request.user):  # type: ignore[arg-type]
            return f"{reverse('sign_in_code')}?{urlencode({self.redirect_field_name: wanted})}"
        return wanted


class SignInCode(RedirectURLMixin, View):
    """Ask for the code of whoever has given the password; nobody else gets here."""

    next_page = "log"

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        """Send away whoever has not given a password, or needs no code."""
        if request.user.is_authenticated:
            return redirect(self.get_success_url())
        if getattr(request, "code_asked_of", None) is None:
            return redirect("sign_in")
        return super().dispatch(request, *args, **kwargs)

    def get(self, request: HttpRequest) -> HttpResponse:
        """Show the form."""
        return self._show(CodeForm(request, _asked(request), second_step.check), 200)

    def post(self, request: HttpRequest) -> HttpResponse:
        """Sign the person in with a code that is right."""
        user = _asked(request)
        form = CodeForm(request, user, second_step.check, request.POST)
        if not form.is_valid():
            return self._show(form, UNPROCESSABLE)
        request.user = user
        request.session.cycle_key()
        rotate_token(request)
        note(request, user, with_code=True)
        return redirect(self.get_success_url())

    def _show(self, form: CodeForm, status: int) -> HttpResponse:
        context = {
            "form": form,
            "name": form.user.get_username(),
            "next": self.get_redirect_url() or resolve_url(self.next_page),
        }
        return render(self.request, "sign_in_code.html", context, status=status)


sign_in_code = login_not_required(never_cache(sensitive_post_parameters()(SignInCode.as_view())))


@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
@own_log_only
def page(request: HttpRequest) -> HttpResponse:
    """Say how the second step stands; make a key, confirm it, or turn it off."""
    user = athlete_of(request).user
    if second_step.is_on(user):
        return _on(request, user)
    wanted = request.POST.get("do")
    if wanted == "confirm":
        form = CodeForm(request, user, second_step.confirm, request.POST)
        if form.is_valid():
            # Whoever signed in elsewhere has given no code, so gives one now.
            sign_ins.end_others(athlete_of(request), own_key(request))
            note(request, user, with_code=True)
            return _codes(request, form.accepted, new=True)
        return _confirm(request, user, form, UNPROCESSABLE)
    password = PasswordForm(request, user, request.POST if wanted == "begin" else None)
    if password.is_bound and password.is_valid():
        second_step.begin(user)
        return _confirm(request, user, CodeForm(request, user, second_step.confirm), 200)
    status = UNPROCESSABLE if password.is_bound else 200
    return show(request, "second_step.html", {"form": password}, status=status)


def _on(request: HttpRequest, user: User) -> HttpResponse:
    form = PasswordAndCodeForm(
        request, user, second_step.check, request.POST if request.method == "POST" else None
    )
    if form.is_bound and form.is_valid():
        if request.POST.get("do") == "codes":
            return _codes(request, second_step.new_codes(user), new=False)
        second_step.turn_off(user)
        messages.success(request, "The second step is off; your password alone signs you in.")
        return redirect("second_step")
    context = {"form": form, "left": second_step.codes_left(user)}
    return show(request, "second_step_on.html", context, status=UNPROCESSABLE if form.is_bound else 200)


def _confirm(request: HttpRequest, user: User, form: CodeForm, status: int) -> HttpResponse:
    device = second_step.begun(user)
    if device is None:
        return redirect("second_step")
    context = {
        "form": form,
        "key": second_step.written_key(device),
        # Drawn here of a key made here; the name in it is inside the pattern of squares.
        "drawn": mark_safe(second_step.drawn_key(device)),
    }
    return show(request, "second_step_confirm.html", context, status=status)


def _codes(request: HttpRequest, codes: list[str], *, new: bool) -> HttpResponse:
    return show(request, "second_step_codes.html", {"codes": codes, "new": new})


def _asked(request: HttpRequest) -> User:
    user: User = request.code_asked_of  # type: ignore[attr-defined]
    return user
