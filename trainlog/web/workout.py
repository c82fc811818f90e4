"""One workout: its traces, its parts and their loads, its recordings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from trainlog.charts.traces import traces
from trainlog.load.draws import relative_half_width
from trainlog.models import Basis, LoadEstimate, Part, Physiology, Sensor, Workout
from trainlog.models.recording import CLOCK_SETTINGS
from trainlog.services import edit_workout
from trainlog.services.care import heart_rate_may_mislead
from trainlog.services.delete_workouts import delete_workout as delete_workout_of_log
from trainlog.services.lift_sets import FIELDS, exercises_of
from trainlog.services.lines import PartLine, lines_between, total_of
from trainlog.services.measures import in_every_measure
from trainlog.services.odd_readings import odd_rates
from trainlog.services.recovery import recovery_of
from trainlog.services.recovery_check import claim_recovery, claims_of
from trainlog.services.tags import describe_workout, tags_in, used_tags
from trainlog.web.deleted import say_deleted
from trainlog.web.forms import ActivityForm, BoundaryForm, NoteForm, PartForm, SessionRpeForm, SplitForm
from trainlog.web.page import CONFLICT, UNPROCESSABLE, accept_or_explain, athlete_of, show
from trainlog.web.recovery import ClaimForm, claims_shown
from trainlog.web.seen import digest_of, one_at_a_time, seen_then
from trainlog.web.set_table import SetRow, SetTable, set_table
from trainlog.web.traces import in_words, lines_of, recordings_of, stretches_of
from trainlog.web.words import clock

ON_WRIST = frozenset({Basis.ACCEPTED, Basis.CORRECTED, Basis.COMBINED, Basis.UNCORRECTED})
"""Bases of a load that rests on a tested sensor, so that something is likely true of its trace."""


@dataclass(frozen=True)
class PartSection:
    """One part with the forms that change it."""

    line: PartLine
    sets: SetTable | None
    activity_form: PartForm
    session_rpe_form: PartForm
    split_form: PartForm
    boundary_form: PartForm
    next: Part | None
    measures: Sequence[LoadEstimate]

    @property
    def physiology_half_width(self) -> float | None:
        """Relative half-width of the load from the doubt of resting and maximum heart rate alone."""
        estimate = self.line.estimate
        return relative_half_width(estimate.load_by_physiology_doubt) if estimate else None

    @property
    def refused(self) -> bool:
        """Whether a form that changes the part itself came back with an explanation."""
        return any(form.errors for form in (self.activity_form, self.session_rpe_form))

    @property
    def place_refused(self) -> bool:
        """Whether a form that says where parts begin and end did."""
        return any(form.errors for form in (self.split_form, self.boundary_form))

    @property
    def begins(self) -> float:
        """Seconds from the beginning of the workout to that of the part."""
        return _seconds(self.line.part, self.line.part.start)

    @property
    def ends(self) -> float:
        """Seconds from the beginning of the workout to the end of the part."""
        return _seconds(self.line.part, self.line.part.end)

    @property
    def next_ends(self) -> float:
        """Seconds from the beginning of the workout to the end of the part after this one."""
        return _seconds(self.next, self.next.end) if self.next else self.ends


def _seconds(part: Part, at: datetime) -> float:
    return (at - part.workout.start).total_seconds()


@require_safe
def workout(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a workout."""
    return workout_page(request, _workout(request, pk))


@require_safe
def chart(request: HttpRequest, pk: int) -> JsonResponse:
    """Hand out the chart of a workout's traces alone, for where nothing is learned from them."""
    found = _workout(request, pk)
    lines = lines_of(found)
    if not lines:
        return JsonResponse({}, status=404)
    return JsonResponse(traces(lines, stretches_of(found, list(found.parts.select_related("activity")))))


@require_POST
@one_at_a_time
def note(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep the athlete's note and tags."""
    found = _workout(request, pk)
    form = NoteForm(request.POST, initial=noted_of(found))

    def save() -> None:
        # A program that sends the note alone leaves the tags alone.
        tags = tags_in(form.cleaned_data["tags"]) if "tags" in form.data else None
        describe_workout(found, note=form.cleaned_data["note"], tags=tags)

    if accept_or_explain(form, save):
        return redirect("workout", pk)
    return workout_page(request, found, note_form=form)


@require_POST
@one_at_a_time
def claimed(request: HttpRequest, pk: int) -> HttpResponse:
    """Note the recovery hours that a device claimed after a workout."""
    found = _workout(request, pk)
    noted = claims_of(found).get(request.POST.get("fed_by", ""))
    form = ClaimForm(request.POST, initial={"hours": noted})

    def save() -> None:
        claim_recovery(found, form.cleaned_data["fed_by"], form.cleaned_data["hours"])

    if accept_or_explain(form, save):
        messages.success(request, "Noted.")
    elif form.conflict:
        return workout_page(request, found, claim=form)
    else:
        reasons = [str(error) for errors in form.errors.values() for error in errors]
        messages.error(request, f"The hours were not noted: {' '.join(reasons)}")
    return redirect("workout", pk)


@require_http_methods(["GET", "POST"])
@one_at_a_time
def delete_workout(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask first; then remove the workout with its recordings."""
    found = _workout(request, pk)
    now = _as_shown(found)
    changed = not seen_then(request, now)
    if request.method == "POST" and not changed:
        say_deleted(request, delete_workout_of_log(found))
        return redirect("log")
    context = {
        "workout": found,
        "recordings": found.recordings.count(),
        "seen": digest_of(now),
        "changed": changed,
    }
    return show(request, "delete_workout.html", context, status=CONFLICT if changed else 200)


@require_POST
@one_at_a_time
def activity(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what kind of work a part was."""
    part = _part(request, pk)
    form = ActivityForm(part, request.POST)
    return _edit(request, part, form, lambda: edit_workout.set_activity(part, form.cleaned_data["activity"]))


@require_POST
@one_at_a_time
def session_rpe(request: HttpRequest, pk: int) -> HttpResponse:
    """Note how hard a part was felt to be."""
    part = _part(request, pk)
    form = SessionRpeForm(part, request.POST)
    return _edit(
        request, part, form, lambda: edit_workout.set_session_rpe(part, form.cleaned_data["session_rpe"])
    )


@require_POST
def split(request: HttpRequest, pk: int) -> HttpResponse:
    """Cut a part in two."""
    part = _part(request, pk)
    form = SplitForm(part, request.POST)
    return _edit(request, part, form, lambda: edit_workout.split_part(part, form.at))


@require_POST
@one_at_a_time
def boundary(request: HttpRequest, pk: int) -> HttpResponse:
    """Move the end of a part, and with it the beginning of the next."""
    part = _part(request, pk)
    form, before = BoundaryForm(part, request.POST), part.end

    def save() -> None:
        edit_workout.move_boundary(part, form.at)
        if part.end != before:
            now, then = (clock(_seconds(part, at)) for at in (part.end, before))
            messages.success(request, f"The boundary is moved to {now}; it was at {then}.")

    return _edit(request, part, form, save)


@require_POST
def join(request: HttpRequest, pk: int) -> HttpResponse:
    """Take in the part after this one."""
    part = _part(request, pk)
    form = Form(request.POST)
    if not accept_or_explain(form, lambda: edit_workout.join_with_next(part)):
        messages.error(request, " ".join(map(str, form.non_field_errors())))
    return redirect("workout", part.workout_id)


def _edit(request: HttpRequest, part: Part, form: PartForm, save: Callable[[], object]) -> HttpResponse:
    if accept_or_explain(form, save):
        return redirect("workout", part.workout_id)
    return workout_page(request, _workout(request, part.workout_id), refused=form)


def workout_page(
    request: HttpRequest,
    found: Workout,
    *,
    note_form: NoteForm | None = None,
    refused: PartForm | None = None,
    set_row: SetRow | None = None,
    claim: ClaimForm | None = None,
    conflict: bool = False,
) -> HttpResponse:
    """Show a workout, with whatever form came back with an explanation in its place."""
    lines = [
        line for line in lines_between(found.owner, found.day, found.day) if line.part.workout_id == found.pk
    ]
    recordings = recordings_of(found)

    def form_of(kind: type[PartForm], part: Part) -> PartForm:
        if isinstance(refused, kind) and refused.part.pk == part.pk:
            return refused
        return kind(part)

    exercises = exercises_of(found.owner)
    tags = [tag.name for tag in found.tags.all()]
    measures = in_every_measure(found.owner, [line.part for line in lines])
    parts = [
        PartSection(
            line,
            set_table(line.part, exercises, set_row),
            form_of(ActivityForm, line.part),
            form_of(SessionRpeForm, line.part),
            form_of(SplitForm, line.part),
            form_of(BoundaryForm, line.part),
            next=later.part if later else None,
            measures=measures.get(line.part.pk, ()),
        )
        for line, later in zip(lines, [*lines[1:], None], strict=True)
    ]
    claims = claims_of(found)
    context = {
        "workout": found,
        "recovery": None if heart_rate_may_mislead(found.owner) else recovery_of(found),
        "claims": claims_shown(claims, claim),
        "claims_noted": bool(claims or claim),
        "parts": parts,
        "has_physiology": Physiology.objects.of(found.owner).exists(),
        "total": total_of(lines),
        "highest": 1.05 * max((line.estimate.high for line in lines if line.estimate), default=1.0),
        "recordings": recordings,
        "sensors": list(Sensor.objects.of(found.owner)),
        "clocks": CLOCK_SETTINGS,
        "chart": any(recording.trace_blob is not None for recording in recordings),
        "has_band": any(line.estimate and line.estimate.basis in ON_WRIST for line in lines),
        "place_refused": any(section.place_refused for section in parts),
        "odd_rates": odd_rates(found.owner, found.owner.today(), found),
        "in_words": in_words(recordings),
        "note_form": note_form or NoteForm(initial=noted_of(found)),
        # A browser completes the whole field: each tag is offered after those that are there.
        "offered_tags": [", ".join([*tags, tag]) for tag in used_tags(found.owner) if tag not in tags],
    }
    wrong = refused or note_form or claim or (set_row.form if set_row and set_row.form.errors else None)
    status = getattr(wrong, "status", UNPROCESSABLE if wrong else 200)
    return show(request, "workout.html", context, status=CONFLICT if conflict else status)


def noted_of(found: Workout) -> dict[str, str]:
    """Note and tags of a workout, as their form shows them."""
    return {"note": found.note, "tags": ", ".join(tag.name for tag in found.tags.all())}


def _as_shown(found: Workout) -> dict[str, Any]:
    """What goes with a workout that is deleted, as far as the athlete changes it by hand."""
    parts = found.parts.order_by("start").values_list("start", "end", "activity", "session_rpe")
    sets = found.parts.values_list("pk", *(f"lift_sets__{name}" for name in FIELDS))
    recordings = found.recordings.order_by("pk").values_list("pk", flat=True)
    return noted_of(found) | {
        "parts": list(parts),
        "sets": sorted(map(str, sets)),
        "recordings": list(recordings),
    }


def _workout(request: HttpRequest, pk: int) -> Workout:
    return get_object_or_404(Workout.objects.of(athlete_of(request)).select_related("owner"), pk=pk)


def _part(request: HttpRequest, pk: int) -> Part:
    rows = Part.objects.of(athlete_of(request)).select_related("owner", "workout", "activity")
    return get_object_or_404(rows, pk=pk)
