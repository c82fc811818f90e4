"""Looking at the invented demo, which is a log apart, and removing it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from trainlog.models import Athlete
from trainlog.services.demo import ask_for_demo, demo_of, remove_demo, state_of
from trainlog.services.progress import Said, waiting
from trainlog.web.page import CONFLICT, athlete_of, show

LOOKING = "looking_at_demo"
"""In the session while the demo is shown in place of the person's own log."""

NO_FILES = (
    "The demo takes no files, so that nothing of yours goes when it is removed. Go back to your own log and "
    "add them there."
)


def looked_at(request: HttpRequest) -> Athlete | None:
    """Demo that this browser looks at, if it does."""
    if not request.session.get(LOOKING):
        return None
    demo = demo_of(request.user)  # type: ignore[arg-type]
    if demo is None:
        # Removed from another browser.
        del request.session[LOOKING]
    return demo


def refuse_files(request: HttpRequest) -> HttpResponse:
    """Say why the demo takes no files."""
    if request.htmx:  # type: ignore[attr-defined]
        context = waiting(athlete_of(request)) | {"said": [Said("error", NO_FILES)]}
        return show(request, "_progress_live.html", context | {"whole": True, "speaks": True}, status=200)
    return show(request, "no_files.html", {"why": NO_FILES}, status=CONFLICT)


@require_http_methods(["GET", "HEAD", "POST"])
def demo(request: HttpRequest) -> HttpResponse:
    """Say what the demo is; have it made and look at it."""
    if request.method == "POST":
        ask_for_demo(request.user)  # type: ignore[arg-type]
        request.session[LOOKING] = True
        return redirect("log")
    return show(request, "demo.html", {"made": demo_of(request.user)})  # type: ignore[arg-type]


@require_safe
def progress(request: HttpRequest) -> HttpResponse:
    """Tell how far the demo is, as a fragment that asks again until all of it is there."""
    made = demo_of(request.user)  # type: ignore[arg-type]
    state = state_of(made) if made else None
    response = show(request, "_demo_progress.html", {"state": state})
    now = f"{state.read}-{state.ready}" if state else "removed"
    if request.GET.get("seen", now) != now:
        response["HX-Trigger"] = "log-changed"
    return response


@require_POST
def leave(request: HttpRequest) -> HttpResponse:
    """Go back to the person's own log; the demo stays."""
    request.session.pop(LOOKING, None)
    return redirect("log")


@require_POST
def remove(request: HttpRequest) -> HttpResponse:
    """Remove the demo and go back to the person's own log."""
    proof = remove_demo(request.user)  # type: ignore[arg-type]
    request.session.pop(LOOKING, None)
    if proof is not None:
        messages.success(
            request,
            "The demo is removed; none of its rows and files is left."
            if proof.nothing_left
            else "The demo is removed, but some of its files could not be deleted from the disk.",
        )
    return redirect("log")
