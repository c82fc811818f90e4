"""Taking a log along, as tables or whole; putting a whole one into an empty log; deleting everything."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth import authenticate, logout
from django.core.exceptions import ValidationError
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from trainlog.services.delete_log import contents_of, delete_log
from trainlog.services.export_all import export_all
from trainlog.services.import_all import ImportRefused, import_all, is_empty
from trainlog.web.exports import DaysForm
from trainlog.web.page import UNPROCESSABLE, athlete_of, own_log_only, show

LARGEST_UPLOAD = 2**30
"""Bytes of an export that the page takes; the command takes any."""


class ImportForm(forms.Form):
    """The file of a whole export."""

    export = forms.FileField(label="Whole export, a ZIP")

    def clean_export(self) -> Any:
        """Refuse what is better done by the command."""
        export = self.cleaned_data["export"]
        if export.size > LARGEST_UPLOAD:
            raise ValidationError(
                "A file of more than 1 GB is imported by python manage.py import_log FILE --user NAME."
            )
        return export


class DeleteForm(forms.Form):
    """Name and password, so that nobody deletes a log by mistake, or from a browser left open."""

    name = forms.CharField(
        label="The name you sign in with", widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    password = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request

    def clean(self) -> dict[str, Any]:
        """Refuse another name, or a wrong password; many wrong ones lock as they do at the sign-in."""
        name, password = self.cleaned_data.get("name"), self.cleaned_data.get("password")
        user = self.request.user
        if name and name != user.get_username():
            self.add_error("name", "That is not the name you have signed in with.")
        elif name and password and authenticate(self.request, username=name, password=password) != user:
            self.add_error("password", "That is not your password.")
        return self.cleaned_data


@require_http_methods(["GET", "HEAD"])
@own_log_only
def take(request: HttpRequest) -> HttpResponse:
    """Offer tables, the whole log, and the way back in."""
    return _take(request, ImportForm())


@require_http_methods(["GET", "HEAD"])
@own_log_only
def whole(request: HttpRequest) -> FileResponse:
    """Hand out the whole log."""
    athlete = athlete_of(request)
    return FileResponse(
        export_all(athlete),
        as_attachment=True,
        filename=f"whole-log_{timezone.now():%Y-%m-%d}.zip",
        content_type="application/zip",
    )


@require_POST
@own_log_only
def import_whole(request: HttpRequest) -> HttpResponse:
    """Put a whole export into this empty log."""
    form = ImportForm(request.POST, request.FILES)
    if form.is_valid():
        try:
            came = import_all(athlete_of(request), form.cleaned_data["export"])
        except ImportRefused as refusal:
            form.add_error("export", str(refusal))
        else:
            messages.success(
                request,
                f"{came.workouts} workouts and {came.files} files are imported; what they teach is being "
                "worked out.",
            )
            return redirect("log")
    return _take(request, form)


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
@own_log_only
def delete_everything(request: HttpRequest) -> HttpResponse:
    """Say what goes; delete it once name and password are given, and show what was counted afterwards."""
    athlete = athlete_of(request)
    form = DeleteForm(request, request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        proof = delete_log(athlete)
        logout(request)
        return render(request, "deleted_everything.html", {"proof": proof})
    context = {"form": form, "there": contents_of(athlete)}
    return show(request, "delete_everything.html", context, status=UNPROCESSABLE if form.is_bound else 200)


def _take(request: HttpRequest, form: ImportForm) -> HttpResponse:
    context = {
        "take": DaysForm(auto_id="take_%s"),
        "form": form,
        "empty": is_empty(athlete_of(request)),
    }
    return show(request, "take.html", context, status=UNPROCESSABLE if form.is_bound else 200)
