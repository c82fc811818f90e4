from datetime import datetime, timedelta

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from tests.builders import MORNING, csv_file, estimate, imported, part, send, sensor
from trainlog.load.draws import standard_normals
from trainlog.models import Basis, Part, Recording
from trainlog.services.import_files import read_recording

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]

DAY = MORNING.date().isoformat()


def upload(signed_in, *contents):
    files = [SimpleUploadedFile(f"{i}.csv", content) for i, content in enumerate(contents)]
    return signed_in.post("/api/files", {"files": files})


def at(minutes):
    return MORNING + timedelta(minutes=minutes)


def test_nobody_is_told_to_sign_in():
    answer = Client(enforce_csrf_checks=True).get("/api/workouts")
    assert answer.status_code == 401
    assert answer.json() == {
        "type": "/api/v1/problems#sign-in-first",
        "status": 401,
        "title": "Sign in first",
        "detail": "Send a token that is valid (Authorization: Bearer …), or sign in on the site.",
    }


def test_nobody_is_told_to_sign_in_even_before_the_token_is_asked_for():
    assert Client(enforce_csrf_checks=True).post("/api/workouts").status_code == 401


def test_a_change_without_the_token_is_not_allowed(ana):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(ana.user)
    answer = send(strict, "PATCH", f"/api/parts/{part(ana).pk}", {"session_rpe": 5})
    assert (answer.status_code, answer.json()["title"]) == (403, "Not allowed")
    assert Part.objects.get().session_rpe is None


def test_several_files_are_received_at_once(signed_in):
    answer = upload(signed_in, csv_file(at(0)), csv_file(at(100)))
    assert answer.status_code == 202
    assert [(one["name"], one["state"], one["problem"]) for one in answer.json()] == [
        ("0.csv", "received", ""),
        ("1.csv", "received", ""),
    ]
    assert [one["id"] for one in answer.json()] == list(
        Recording.objects.order_by("pk").values_list("pk", flat=True)
    )


def test_a_file_refused_at_the_door_does_not_hold_up_the_others(signed_in):
    empty, whole = upload(signed_in, b"", csv_file()).json()
    assert (empty["id"], empty["state"]) == (None, "refused")
    assert "empty" in empty["problem"]
    assert whole["state"] == "received"
    assert Recording.objects.count() == 1


def test_an_oversized_file_is_refused_without_being_read_into_memory(signed_in, settings, monkeypatch):
    settings.MAX_FILE_BYTES = 100
    monkeypatch.setattr("trainlog.api.files.receive_all", lambda *args: pytest.fail("the file was read"))
    (answer,) = upload(signed_in, csv_file()).json()
    assert (answer["id"], answer["state"]) == (None, "refused")


def test_the_same_bytes_answer_with_the_file_that_is_there(signed_in):
    (first,) = upload(signed_in, csv_file()).json()
    assert first["duplicate"] is False
    assert upload(signed_in, csv_file()).json() == [first | {"duplicate": True}]


def test_no_file_at_all_cannot_be_used(signed_in):
    answer = signed_in.post("/api/files")
    assert answer.status_code == 422
    assert "files" in answer.json()["detail"]


def test_more_files_at_once_than_allowed_are_refused_with_the_limit(signed_in, settings):
    settings.DATA_UPLOAD_MAX_NUMBER_FILES = settings.MAX_FILES_AT_ONCE = 2
    answer = upload(signed_in, *[csv_file(at(100 * i)) for i in range(3)])
    assert answer.status_code == 413
    assert answer.json()["detail"] == "Send at most 2 files at once."


def test_a_file_shows_what_was_found_in_it(signed_in, ana):
    wrist = sensor(ana, source_key="csv:wrist 1")
    recording = imported(ana, csv_file(at(0), 10, device="wrist 1"), "a.csv")
    answer = signed_in.get(f"/api/files/{recording.pk}").json()
    assert answer["state"] == "read"
    assert (answer["format"], answer["sensor"], answer["workout"]) == (
        "csv",
        wrist.name,
        recording.workout_id,
    )
    assert datetime.fromisoformat(answer["start"]) == at(0)


def test_a_refused_file_shows_why_and_what_to_do(signed_in, ana):
    recording = imported(ana, b"time,speed\n2026-03-02T06:30:00Z,3\n")
    answer = signed_in.get(f"/api/files/{recording.pk}").json()
    assert answer["state"] == "refused"
    assert answer["problem"] == recording.problem != ""


def test_a_body_that_is_no_json_is_not_understood(signed_in, ana):
    answer = signed_in.patch(f"/api/parts/{part(ana).pk}", "{", content_type="application/json")
    assert answer.status_code == 400
    assert answer.json()["title"] == "Not understood"


def test_an_uploaded_file_ends_up_in_a_workout(signed_in):
    (file,) = upload(signed_in, csv_file(at(0), 10, sports=("rowing",))).json()
    read_recording(file["id"])
    (workout,) = signed_in.get("/api/workouts").json()["results"]
    assert workout["files"] == [file["id"]]
    assert [one["activity"] for one in workout["parts"]] == ["row"]


def test_an_estimate_shows_its_interval_and_what_it_rests_on(signed_in, ana):
    trained = part(ana)
    shown = estimate(
        trained, 100 * np.exp(0.1 * standard_normals("x")), basis=Basis.ACCEPTED, reason="It will do."
    )
    (answer,) = signed_in.get("/api/estimates", {"from": DAY, "to": DAY}).json()
    assert (answer["part"], answer["workout"], answer["day"]) == (trained.pk, trained.workout_id, DAY)
    assert (answer["activity"], answer["stale"]) == ("run", False)
    load = answer["load"]
    assert (load["low"], load["median"], load["high"]) == (shown.low, shown.median, shown.high)
    assert (load["basis"], load["confidence"], load["reason"]) == ("accepted", "fair", "It will do.")
    assert load["sensor_half_width"] == pytest.approx(0.128, abs=0.005)


def test_a_part_that_was_not_estimated_yet_is_listed_without_load(signed_in, ana):
    part(ana)
    (answer,) = signed_in.get("/api/estimates", {"from": DAY, "to": DAY}).json()
    assert (answer["stale"], answer["load"]) == (True, None)


def test_an_estimate_of_a_part_that_has_changed_since_is_marked_stale(signed_in, ana):
    changed = part(ana)
    estimate(changed)
    send(signed_in, "PATCH", f"/api/parts/{changed.pk}", {"session_rpe": 3})
    (answer,) = signed_in.get("/api/estimates", {"from": DAY, "to": DAY}).json()
    assert answer["stale"] is True
    assert answer["load"]["median"] == 100


def test_the_half_width_of_no_load_is_null_and_not_a_number_json_cannot_hold(signed_in, ana):
    estimate(part(ana), 0)
    answer = signed_in.get("/api/estimates", {"from": DAY, "to": DAY})
    assert answer.json()[0]["load"]["sensor_half_width"] is None
    assert b"Infinity" not in answer.content
    assert b"Infinity" not in signed_in.get(f"/api/weeks/{DAY}").content


def test_without_days_the_last_four_weeks_are_listed(signed_in, ana):
    today = timezone.now().replace(microsecond=0) - timedelta(hours=1)
    inside = part(ana, today - timedelta(days=26), 10)
    part(ana, today - timedelta(days=29), 10)
    assert [one["part"] for one in signed_in.get("/api/estimates").json()] == [inside.pk]


@pytest.mark.parametrize(
    "days",
    [
        {"from": "2026-03-03", "to": "2026-03-02"},
        {"from": "2020-01-01", "to": "2026-03-02"},
        {"from": "2026-02-30"},
        {"from": "0001-01-01", "to": "0001-01-02"},
        {"to": "9999-12-31"},
    ],
)
def test_days_that_cannot_be_listed_are_refused(signed_in, days):
    assert signed_in.get("/api/estimates", days).status_code == 422


def test_loads_are_listed_in_the_measure_that_is_asked_for(signed_in, ana):
    made = part(ana)
    for measure, load in (("trimp", 80.0), ("zones", 150.0)):
        estimate(made, load, measure=measure)
    days = {"from": "2026-03-01", "to": "2026-03-05"}
    (usual,) = signed_in.get("/api/estimates", days).json()
    (zones,) = signed_in.get("/api/estimates", days | {"measure": "zones"}).json()
    assert (usual["load"]["measure"], usual["load"]["median"]) == ("trimp", 80)
    assert (zones["load"]["measure"], zones["load"]["median"]) == ("zones", 150)
    assert signed_in.get("/api/estimates", days | {"measure": "points"}).status_code == 422


def test_the_description_of_the_api_names_every_operation(signed_in):
    described = signed_in.get("/api/v1/openapi.json").json()
    assert set(described["paths"]) == {
        "/api/v1/files",
        "/api/v1/files/{id}",
        "/api/v1/workouts",
        "/api/v1/workouts/{id}",
        "/api/v1/parts/{id}",
        "/api/v1/parts/{id}/sets",
        "/api/v1/sets/{id}",
        "/api/v1/estimates",
        "/api/v1/weeks/{day}",
        "/api/v1/blocks",
        "/api/v1/check-ins",
        "/api/v1/check-ins/{day}",
        "/api/v1/check-ins/{day}/rr-file",
        "/api/v1/stays",
        "/api/v1/stays/{id}",
        "/api/v1/unknown-days",
        "/api/v1/unknown-days/{day}",
        "/api/v1/profiles",
        "/api/v1/pairs",
        "/api/v1/pairs/{id}",
        "/api/v1/strap-plan",
        "/api/v1/trend",
        "/api/v1/recovery",
        "/api/v1/recovery/now",
        "/api/v1/workouts/{id}/claimed-recovery",
        "/api/v1/weeks/{day}/plan",
        "/api/v1/planned-sessions",
        "/api/v1/planned-sessions/{id}",
        "/api/v1/years",
        "/api/v1/settings",
        "/api/v1/deleted",
        "/api/v1/several-workouts/change",
        "/api/v1/several-workouts/delete",
        "/api/v1/deleted/{id}",
        "/api/v1/deleted/{id}/put-back",
        "/api/v1/offers/resting-rate",
        "/api/v1/offers/maximum-rate",
        "/api/v1/recovery/check",
        "/api/v1/recovery/claimed",
        "/api/v1/sensor-comparison",
        *(f"/api/v1/parts/{{id}}/{what}" for what in ("boundary", "split", "join")),
        "/api/v1/reports",
        "/api/v1/reports/{id}",
        "/api/v1/reports/{id}/file",
        "/api/v1/problems",
        "/api/v1/publications",
        "/api/v1/files/{id}/original",
        *(f"/api/v1/files/{{id}}/trace.{kind}" for kind in ("csv", "parquet", "arrow")),
        *(f"/api/v1/pairs/{{id}}/traces.{kind}" for kind in ("csv", "parquet", "arrow")),
    }


def test_the_page_about_the_api_loads_nothing_from_elsewhere(signed_in):
    page = signed_in.get("/api/docs")
    assert page.status_code == 200
    assert b"http://" not in page.content
    assert b"https://" not in page.content
    assert "script-src 'self'" in page["Content-Security-Policy"]
    assert "unsafe" not in page["Content-Security-Policy"]


def test_the_page_about_the_api_is_for_those_who_have_signed_in():
    for address in ("/api/docs", "/api/openapi.json"):
        answer = Client().get(address)
        assert answer.status_code == 302
        assert answer["Location"].startswith("/sign-in")
