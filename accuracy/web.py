"""Pages of what was learned: sensors, profiles, and the findings of a part."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods, require_safe

from accuracy import charts, shown
from accuracy.forms import FirmwareForm, SensorForm
from accuracy.models import LearningState
from trainlog.models import Activity, Part, Recording, Sensor
from trainlog.services.edit_workout import set_sensor
from trainlog.services.sensors import note_firmware, save_sensor
from trainlog.web.page import UNPROCESSABLE, accept_or_explain, athlete_of, show


@require_safe
def sensors(request: HttpRequest) -> HttpResponse:
    """Show what was learned of each sensor on each activity."""
    athlete = athlete_of(request)
    rows = list(
        Sensor.objects.of(athlete).annotate(recording_count=Count("recordings")).prefetch_related("firmware")
    )
    tested = [row for row in rows if not row.is_reference]
    context = {
        "sensors": rows,
        "tested": tested,
        "has_reference": len(tested) < len(rows),
        "matrix": shown.matrix(athlete, tested),
        "fit": shown.current_fit(athlete),
        "learning": LearningState.objects.of(athlete).first(),
    }
    return show(request, "accuracy/sensors.html", context)


@require_http_methods(["GET", "POST"])
def new_sensor(request: HttpRequest) -> HttpResponse:
    """Add a sensor; with ``recording``, say that it made that recording."""
    athlete = athlete_of(request)
    asked = request.POST.get("recording") or request.GET.get("recording") or ""
    recording = None
    if asked:
        recording = get_object_or_404(
            Recording.objects.of(athlete).select_related("owner").defer("trace_blob"),
            pk=asked if asked.isdecimal() else 0,
        )
    posted = request.POST if request.method == "POST" else None
    form = SensorForm(athlete, posted)
    if posted is not None and accept_or_explain(form, lambda: save_sensor(athlete, form.instance)):
        messages.success(request, f"{form.instance.name} is added.")
        if recording is None:
            return redirect("sensors")
        set_sensor(recording, form.instance)
        return redirect("log")
    context = {"form": form, "recording": recording}
    return show(request, "accuracy/sensor.html", context, status=UNPROCESSABLE if posted is not None else 200)


@require_http_methods(["GET", "POST"])
def edit_sensor(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a sensor."""
    sensor = _sensor(request, pk)
    posted = request.POST if request.method == "POST" else None
    form = SensorForm(athlete_of(request), posted, instance=sensor)
    if posted is not None and accept_or_explain(
        form, lambda: save_sensor(athlete_of(request), form.instance)
    ):
        messages.success(request, f"{sensor.name} is saved.")
        return redirect("sensors")
    return _sensor_page(request, _sensor(request, pk), form=form)


@require_http_methods(["POST"])
def sensor_firmware(request: HttpRequest, pk: int) -> HttpResponse:
    """Note that a sensor has run a version from a day on."""
    sensor = _sensor(request, pk)
    form = FirmwareForm(request.POST)

    def save() -> None:
        note_firmware(sensor, form.cleaned_data["version"], form.cleaned_data["from_day"])

    if accept_or_explain(form, save):
        return redirect("edit_sensor", pk)
    return _sensor_page(request, sensor, firmware_form=form)


@require_safe
def profile(request: HttpRequest, sensor_pk: int, activity_pk: int) -> HttpResponse:
    """Show what was learned of one sensor on one activity, and from which pairs."""
    athlete = athlete_of(request)
    sensor = _sensor(request, sensor_pk)
    activity = get_object_or_404(Activity.objects.of(athlete), pk=activity_pk)
    cell = shown.cell_of(athlete, sensor, activity)
    lines = shown.pairs_of(athlete, sensor, activity)
    points = [
        charts.PairPoint(line.pair.part.workout.day, line.ratio, line.pair.usable)
        for line in lines
        if line.ratio is not None
    ]
    found = cell.profile
    band = charts.Band(1 / found.ratio_high, 1 / found.ratio, 1 / found.ratio_low) if found else None
    context = {
        "cell": cell,
        "lines": lines,
        "usable": sum(line.pair.usable for line in lines),
        "chart": charts.pair_ratios(points, band) if points else None,
    }
    return show(request, "accuracy/profile.html", context)


@require_safe
def part_findings(request: HttpRequest, pk: int) -> HttpResponse:
    """Show how the sensors agree in a part: a fragment for the workout's page, or a page of its own."""
    athlete = athlete_of(request)
    part = get_object_or_404(Part.objects.of(athlete).select_related("workout", "activity"), pk=pk)
    context = {
        "part": part,
        "lines": shown.pairs_of_part(athlete, part),
        "flagged": shown.flagged_of_part(athlete, part),
    }
    fragment = request.htmx  # type: ignore[attr-defined]
    return show(request, "accuracy/_findings.html" if fragment else "accuracy/findings.html", context)


def _sensor(request: HttpRequest, pk: int) -> Sensor:
    return get_object_or_404(Sensor.objects.of(athlete_of(request)).prefetch_related("firmware"), pk=pk)


def _sensor_page(
    request: HttpRequest,
    sensor: Sensor,
    *,
    form: SensorForm | None = None,
    firmware_form: FirmwareForm | None = None,
) -> HttpResponse:
    refused = any(bound is not None and bound.is_bound for bound in (form, firmware_form))
    context = {
        "sensor": sensor,
        "form": form or SensorForm(athlete_of(request), instance=sensor),
        "firmware_form": firmware_form or FirmwareForm(initial={"from_day": athlete_of(request).today()}),
    }
    return show(request, "accuracy/sensor.html", context, status=UNPROCESSABLE if refused else 200)
