"""Adding files, watching them being read, and what can be done with one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from trainlog import originals
from trainlog.models import Deletion, Recording, Workout
from trainlog.readers.errors import UnreadableFile
from trainlog.services import delete_workouts, edit_workout, import_files
from trainlog.services.deletions import deleted_hashes
from trainlog.services.progress import Said, said_of, waiting
from trainlog.web.deleted import say_deleted
from trainlog.web.forms import ClockForm, ColumnsForm, SensorChoiceForm
from trainlog.web.page import CONFLICT, athlete_of, show
from trainlog.web.seen import one_at_a_time
from trainlog.web.workout import workout_page


@require_POST
def add_files(request: HttpRequest) -> HttpResponse:
    """Keep every file of a drop; one that cannot be kept does not hold up the others."""
    athlete = athlete_of(request)
    files = request.FILES.getlist("files")
    said, deleted = [], deleted_hashes(athlete)
    for file in files:
        name = file.name or "unnamed"
        try:
            import_files.check_size(file.size or 0)
        except UnreadableFile as refusal:
            said.append(Said("error", f"{name}: {refusal}"))
            continue
        said += said_of(athlete, import_files.receive_all(athlete, name, file.read()), deleted)
    if not files:
        said.append(Said("error", "Choose at least one file first."))
    if request.htmx:  # type: ignore[attr-defined]
        return _progress(request, said)
    for one in said:
        messages.add_message(request, messages.ERROR if one.kind == "error" else messages.INFO, one.text)
    return redirect("log")


@require_safe
def progress(request: HttpRequest) -> HttpResponse:
    """Show how far the files are."""
    return _progress(request)


@require_POST
@one_at_a_time
def choose_sensor(request: HttpRequest, pk: int) -> HttpResponse:
    """Say which sensor made a recording, and others of the same source."""
    recording = _recording(request, pk, state=Recording.State.READ)
    form = SensorChoiceForm(athlete_of(request), request.POST, initial={"sensor": recording.sensor_id})
    if form.is_valid():
        edit_workout.set_sensor(recording, form.cleaned_data["sensor"])
        return _back(request, recording)
    if form.conflict:
        return _changed_meanwhile(request, recording, form.both_in_words("sensor"))
    messages.error(request, f"{recording.file_name}: choose one of your sensors.")
    return _back(request, recording)


@require_POST
@one_at_a_time
def set_clock(request: HttpRequest, pk: int) -> HttpResponse:
    """Say how a recording's clock was set."""
    recording = _recording(request, pk, state=Recording.State.READ)
    form = ClockForm(request.POST, initial={"clock": recording.clock})
    if form.is_valid():
        edit_workout.set_clock(recording, form.cleaned_data["clock"])
    elif form.conflict:
        return _changed_meanwhile(request, recording, form.both_in_words("clock"))
    else:
        messages.error(request, f"{recording.file_name}: choose one of the ways a clock can be set.")
    return redirect("workout", recording.workout_id) if recording.workout_id else redirect("log")


@require_POST
def read_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Try a refused file once more, knowing which columns of a text file hold what if the athlete says so."""
    recording = _recording(request, pk)
    with timezone.override(athlete_of(request).zone):
        form = ColumnsForm(request.POST)
        understood = form.is_valid()
    if understood:
        import_files.read_again(recording, form.columns(athlete_of(request).whereabouts()))
    else:
        messages.error(request, f"{recording.file_name}: give the start as a date and a time.")
    return _back(request, recording)


@require_POST
def delete_recording(request: HttpRequest, pk: int) -> HttpResponse:
    """Remove a recording; it can be put back."""
    recording = _recording(request, pk)
    workout = recording.workout
    deletion = delete_workouts.delete_recording(recording)
    if request.htmx:  # type: ignore[attr-defined]
        return _progress(request, deletion=deletion)
    say_deleted(request, deletion)
    if workout and Workout.objects.of(athlete_of(request)).filter(pk=workout.pk).exists():
        return redirect("workout", workout.pk)
    return redirect("log")


@require_safe
def original(request: HttpRequest, pk: int) -> FileResponse:
    """Hand out the bytes that were uploaded, as they were."""
    recording = _recording(request, pk)
    path = originals.path_of(recording.owner_id, recording.sha256)
    if not path.exists():
        raise Http404("the original of this file is no longer on disk")
    return FileResponse(
        path.open("rb"),
        as_attachment=True,
        filename=recording.file_name,
        content_type="application/octet-stream",
    )


def _progress(
    request: HttpRequest, said: Sequence[Said] | None = None, *, deletion: Deletion | None = None
) -> HttpResponse:
    context = waiting(athlete_of(request)) | {"said": said, "deletion": deletion}
    posted = request.method == "POST"
    context |= {
        "whole": posted,
        "asks_anew": request.GET.get("asked") != context["asked"],
        # What was said stays in sight until there is something else to say.
        "speaks": said is not None or deletion is not None,
    }
    template = "_progress_live.html" if request.htmx else "progress.html"  # type: ignore[attr-defined]
    response = show(request, template, context)
    now = f"{context['received_count']}-{context['estimating']}"
    if posted or request.GET.get("seen", now) != now:
        response["HX-Trigger"] = "log-changed"
    return response


def _changed_meanwhile(request: HttpRequest, recording: Recording, what: str) -> HttpResponse:
    """Show where the choice stands now, with what was chosen in words: one look and it can be made again."""
    said = f"{recording.file_name}: {what}"
    if recording.workout and not request.htmx:  # type: ignore[attr-defined]
        messages.error(request, said)
        return workout_page(request, recording.workout, conflict=True)
    response = _progress(request, [Said("error", said)])
    response.status_code = CONFLICT
    return response


def _recording(request: HttpRequest, pk: int, **also: Any) -> Recording:
    rows = Recording.objects.of(athlete_of(request)).defer("trace_blob").select_related("owner", "workout")
    return get_object_or_404(rows, pk=pk, **also)


def _back(request: HttpRequest, recording: Recording) -> HttpResponse:
    if request.htmx:  # type: ignore[attr-defined]
        return _progress(request)
    if recording.workout_id and request.POST.get("back") == "workout":
        return redirect("workout", recording.workout_id)
    return redirect("log")
