"""Adding, changing and removing sets: the whole page, or its table alone where the browser asks for that."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from trainlog.models import Deletion, LiftSet, Part, Workout
from trainlog.services import lift_sets
from trainlog.web.deleted import say_deleted
from trainlog.web.page import accept_or_explain, athlete_of, show
from trainlog.web.seen import one_at_a_time
from trainlog.web.set_table import SetRow, form_to_add, form_to_change, set_table
from trainlog.web.workout import workout_page


@require_POST
def add_set(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a line of sets to a part."""
    rows = Part.objects.of(athlete_of(request)).select_related("owner", "activity")
    part = get_object_or_404(rows, pk=pk)
    form = form_to_add(part, None, request.POST)
    if accept_or_explain(form, lambda: lift_sets.add_set(part, form.cleaned_data)):
        return _done(request, part)
    return _open(request, SetRow(part, None, form))


@require_http_methods(["GET", "POST"])
@one_at_a_time
def change_set(request: HttpRequest, pk: int) -> HttpResponse:
    """Open a line of sets for changing; keep what it is changed to."""
    row = _row(request, pk)
    form = form_to_change(row, request.POST if request.method == "POST" else None)
    if form.is_bound and accept_or_explain(form, lambda: lift_sets.change_set(row, form.cleaned_data)):
        return _done(request, row.part)
    return _open(request, SetRow(row.part, row, form))


@require_POST
def delete_set(request: HttpRequest, pk: int) -> HttpResponse:
    """Remove a line of sets; it can be put back."""
    row = _row(request, pk)
    deletion = lift_sets.delete_set(row)
    if request.htmx:  # type: ignore[attr-defined]
        return _table(request, row.part, deletion=deletion)
    say_deleted(request, deletion)
    return _done(request, row.part)


def _row(request: HttpRequest, pk: int) -> LiftSet:
    rows = LiftSet.objects.of(athlete_of(request)).select_related(
        "owner", "part__activity", "part__owner", "part__workout"
    )
    return get_object_or_404(rows, pk=pk)


def _done(request: HttpRequest, part: Part) -> HttpResponse:
    if request.htmx:  # type: ignore[attr-defined]
        return _table(request, part)
    return redirect(f"{reverse('workout', args=[part.workout_id])}#sets-{part.pk}")


def _open(request: HttpRequest, row: SetRow) -> HttpResponse:
    if request.htmx:  # type: ignore[attr-defined]
        return _table(request, row.part, row)
    workouts = Workout.objects.of(athlete_of(request)).select_related("owner")
    return workout_page(request, get_object_or_404(workouts, pk=row.part.workout_id), set_row=row)


def _table(
    request: HttpRequest, part: Part, row: SetRow | None = None, deletion: Deletion | None = None
) -> HttpResponse:
    table = set_table(part, lift_sets.exercises_of(part.owner), row)
    if table is None:
        # The last line of a part that is of no kind of work with sets: the table goes with it.
        return show(request, "_deleted.html", {"deletion": deletion}) if deletion else HttpResponse()
    status = row.form.status if row and row.form.errors else 200
    return show(request, "_sets.html", {"table": table, "deletion": deletion}, status=status)
