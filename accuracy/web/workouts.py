"""The chart of a whole workout with what was learned of it."""

from __future__ import annotations

from django.http import HttpRequest, JsonResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from accuracy.services.workout_chart import flagged_of_workout, likely_band_of
from trainlog.charts.traces import traces
from trainlog.models import Part, Workout
from trainlog.web.page import athlete_of
from trainlog.web.traces import lines_of, stretches_of


@require_safe
def workout_chart(request: HttpRequest, pk: int) -> JsonResponse:
    """Hand out the chart of all traces, with the likely-true band and the flagged stretches."""
    athlete = athlete_of(request)
    workout = get_object_or_404(Workout.objects.of(athlete), pk=pk)
    lines = lines_of(workout)
    if not lines:
        return JsonResponse({}, status=404)
    parts = list(Part.objects.of(athlete).filter(workout=workout).select_related("workout", "activity"))
    return JsonResponse(
        traces(
            lines,
            stretches_of(workout, parts),
            likely_band_of(athlete, workout, parts),
            flagged_of_workout(athlete, workout),
        )
    )
