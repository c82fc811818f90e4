"""Page of one sensor on one activity: what was learned, from which pairs, and how they agree."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from accuracy import charts
from accuracy.services.exports import agreement_figures, agreement_rows, file_name
from accuracy.services.firmware_history import histories_of
from accuracy.shown import firmware, learned
from accuracy.shown.calibration import calibration_section
from accuracy.shown.pair import epoch_of
from accuracy.shown.profile import agreement_section
from accuracy.web.files import csv_file, json_file
from trainlog.models import Activity, Sensor
from trainlog.web.page import athlete_of, show


@require_safe
def profile(request: HttpRequest, sensor_pk: int, activity_pk: int) -> HttpResponse:
    """Show what was learned of one sensor on one activity, and from which pairs."""
    athlete = athlete_of(request)
    sensor, activity = _cell(request, sensor_pk, activity_pk)
    cell = learned.cell_of(athlete, sensor, activity)
    lines = learned.pairs_of(athlete, sensor, activity)
    points = [
        charts.PairPoint(line.pair.part.workout.day, line.ratio, line.pair.usable)
        for line in lines
        if line.ratio is not None
    ]
    found = cell.profile
    band = charts.Band(1 / found.ratio_high, 1 / found.ratio, 1 / found.ratio_low) if found else None
    epoch = epoch_of(request.GET.get("epoch"))
    history = histories_of(athlete, [sensor]).get((sensor.pk, activity.pk))
    context = {
        "cell": cell,
        "lines": lines,
        "usable": sum(line.pair.usable for line in lines),
        "chart": charts.pair_ratios(points, band) if points else None,
        "versions": firmware.lines(history, sensor) if history else [],
        **calibration_section(cell),
        **agreement_section(found.agreement if found else {}, lines, epoch),
    }
    return show(request, "accuracy/profile.html", context)


@require_safe
def agreement_csv(request: HttpRequest, sensor_pk: int, activity_pk: int) -> HttpResponse:
    """Hand out one row a pair with all its figures."""
    sensor, activity = _cell(request, sensor_pk, activity_pk)
    rows = agreement_rows(athlete_of(request), sensor, activity)
    return csv_file(rows, _name(sensor, activity, "csv"))


@require_safe
def agreement_json(request: HttpRequest, sensor_pk: int, activity_pk: int) -> HttpResponse:
    """Hand out the agreement over sessions with its units."""
    athlete = athlete_of(request)
    sensor, activity = _cell(request, sensor_pk, activity_pk)
    found = learned.cell_of(athlete, sensor, activity).profile
    return json_file(agreement_figures(athlete, sensor, activity, found), _name(sensor, activity, "json"))


def _cell(request: HttpRequest, sensor_pk: int, activity_pk: int) -> tuple[Sensor, Activity]:
    athlete = athlete_of(request)
    sensor = get_object_or_404(Sensor.objects.of(athlete).prefetch_related("firmware"), pk=sensor_pk)
    return sensor, get_object_or_404(Activity.objects.of(athlete), pk=activity_pk)


def _name(sensor: Sensor, activity: Activity, ending: str) -> str:
    return file_name("agreement", sensor.name, activity.slug, ending=ending)
