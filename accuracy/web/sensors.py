"""Pages of the sensors and of what was learned of each."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods, require_safe

from accuracy.forms import FirmwareForm, SensorForm
from accuracy.models import LearningState
from accuracy.services.profiles import current_fit
from accuracy.shown import learned
from trainlog.models import Recording, Sensor
from trainlog.services.edit_workout import set_sensor
from trainlog.services.sensors import note_firmware, save_sensor
from trainlog.web.page import UNPROCESSABLE, accept_or_explain, athlete_of, show, whole_number
from trainlog.web.seen import one_at_a_time


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
        "matrix": learned.matrix(athlete, tested),
        "fit": current_fit(athlete),
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
            pk=whole_number(asked),
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
@one_at_a_time
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
@one_at_a_time
def sensor_firmware(request: HttpRequest, pk: int) -> HttpResponse:
    """Note that a sensor has run a version from a day on."""
    sensor = _sensor(request, pk)
    form = FirmwareForm(sensor, request.POST)

    def save() -> None:
        note_firmware(sensor, form.cleaned_data["version"], form.cleaned_data["from_day"])

    if accept_or_explain(form, save):
        return redirect("edit_sensor", pk)
    return _sensor_page(request, sensor, firmware_form=form)


def _sensor(request: HttpRequest, pk: int) -> Sensor:
    return get_object_or_404(Sensor.objects.of(athlete_of(request)).prefetch_related("firmware"), pk=pk)


def _sensor_page(
    request: HttpRequest,
    sensor: Sensor,
    *,
    form: SensorForm | None = None,
    firmware_form: FirmwareForm | None = None,
) -> HttpResponse:
    refused = next((bound for bound in (form, firmware_form) if bound is not None and bound.is_bound), None)
    context = {
        "sensor": sensor,
        "form": form or SensorForm(athlete_of(request), instance=sensor),
        "firmware_form": firmware_form
        or FirmwareForm(sensor, initial={"from_day": athlete_of(request).today()}),
    }
    return show(request, "accuracy/sensor.html", context, status=refused.status if refused else 200)
