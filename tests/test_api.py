import json
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from tests.builders import MORNING, athlete, csv_file, estimate, imported, part, sensor
from trainlog.load.draws import standard_normals
from trainlog.models import Basis, Part, Recording, Workout
from trainlog.services.import_files import read_recording

pytestmark = pytest.mark.django_db

DAY = MORNING.date().isoformat()


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path
    return tmp_path


@pytest.fixture
def ana():
    return athlete("ana")


@pytest.fixture
def client(ana):
    """Someone signed in, whose requests carry the token by themselves."""
    signed_in = Client()
    signed_in.force_login(ana.user)
    return signed_in


def upload(client, *contents):
    files = [SimpleUploadedFile(f"{i}.csv", content) for i, content in enumerate(contents)]
    return client.post("/api/files", {"files": files})


def send(client, method, address, body):
    return client.generic(method, address, json.dumps(body), content_type="application/json")


def at(minutes):
    return MORNING + timedelta(minutes=minutes)


def test_nobody_is_told_to_sign_in():
    answer = Client(enforce_csrf_checks=True).get("/api/workouts")
    assert answer.status_code == 401
    assert answer.json() == {
        "title": "Sign in first",
        "detail": "Sign in on the site and send its session cookie.",
    }


def test_nobody_is_told_to_sign_in_even_before_the_token_is_asked_for():
    assert Client(enforce_csrf_checks=True).post("/api/workouts").status_code == 401


def test_a_change_without_the_token_is_not_allowed(ana):
    signed_in = Client(enforce_csrf_checks=True)
    signed_in.force_login(ana.user)
    answer = send(signed_in, "PATCH", f"/api/parts/{part(ana).pk}", {"session_rpe": 5})
    assert (answer.status_code, answer.json()["title"]) == (403, "Not allowed")
    assert Part.objects.get().session_rpe is None


def test_several_files_are_received_at_once(client):
    answer = upload(client, csv_file(at(0)), csv_file(at(100)))
    assert answer.status_code == 202
    assert [(one["name"], one["state"], one["problem"]) for one in answer.json()] == [
        ("0.csv", "received", ""),
        ("1.csv", "received", ""),
    ]
    assert [one["id"] for one in answer.json()] == list(
        Recording.objects.order_by("pk").values_list("pk", flat=True)
    )


def test_a_file_refused_at_the_door_does_not_hold_up_the_others(client):
    empty, whole = upload(client, b"", csv_file()).json()
    assert (empty["id"], empty["state"]) == (None, "refused")
    assert "empty" in empty["problem"]
    assert whole["state"] == "received"
    assert Recording.objects.count() == 1


def test_an_oversized_file_is_refused_without_being_read_into_memory(client, settings, monkeypatch):
    settings.MAX_FILE_BYTES = 100
    monkeypatch.setattr("trainlog.api.receive_all", lambda *args: pytest.fail("the file was read"))
    (answer,) = upload(client, csv_file()).json()
    assert (answer["id"], answer["state"]) == (None, "refused")


def test_the_same_bytes_answer_with_the_file_that_is_there(client):
    first = upload(client, csv_file()).json()
    assert upload(client, csv_file()).json() == first


def test_no_file_at_all_cannot_be_used(client):
    answer = client.post("/api/files")
    assert answer.status_code == 422
    assert "files" in answer.json()["detail"]


def test_more_files_at_once_than_allowed_are_refused_with_the_limit(client, settings):
    settings.DATA_UPLOAD_MAX_NUMBER_FILES = settings.MAX_FILES_AT_ONCE = 2
    answer = upload(client, *[csv_file(at(100 * i)) for i in range(3)])
    assert answer.status_code == 413
    assert answer.json()["detail"] == "Send at most 2 files at once."


def test_a_file_shows_what_was_found_in_it(client, ana):
    wrist = sensor(ana, source_key="csv:wrist 1")
    recording = imported(ana, csv_file(at(0), 10, device="wrist 1"), "a.csv")
    answer = client.get(f"/api/files/{recording.pk}").json()
    assert answer["state"] == "read"
    assert (answer["format"], answer["sensor"], answer["workout"]) == (
        "csv",
        wrist.name,
        recording.workout_id,
    )
    assert datetime.fromisoformat(answer["start"]) == at(0)


def test_a_refused_file_shows_why_and_what_to_do(client, ana):
    recording = imported(ana, b"time,speed\n2026-03-02T06:30:00Z,3\n")
    answer = client.get(f"/api/files/{recording.pk}").json()
    assert answer["state"] == "refused"
    assert answer["problem"] == recording.problem != ""


def test_an_uploaded_file_ends_up_in_a_workout(client):
    (file,) = upload(client, csv_file(at(0), 10, sports=("rowing",))).json()
    read_recording(file["id"])
    (workout,) = client.get("/api/workouts").json()["results"]
    assert workout["files"] == [file["id"]]
    assert [one["activity"] for one in workout["parts"]] == ["row"]


def test_workouts_come_newest_first_in_pages(client, ana):
    for i in range(5):
        part(ana, at(100 * i), 60)
    page = client.get("/api/workouts", {"page_size": 2}).json()
    seen = [one["start"] for one in page["results"]]
    while page["next"]:
        page = client.get(page["next"]).json()
        seen += [one["start"] for one in page["results"]]
    assert [datetime.fromisoformat(start) for start in seen] == [at(100 * i) for i in (4, 3, 2, 1, 0)]


@pytest.mark.parametrize("cursor", ["x", "cD1u", "bz1hYmM=", "é"])
def test_a_damaged_cursor_cannot_be_used(client, cursor):
    assert client.get("/api/workouts", {"cursor": cursor}).status_code == 422


def test_workouts_can_be_asked_for_by_day(client, ana):
    for i in range(4):
        part(ana, at(24 * 60 * i), 60)
    days = {"from": "2026-03-03", "to": "2026-03-04"}
    assert [one["day"] for one in client.get("/api/workouts", days).json()["results"]] == [
        "2026-03-04",
        "2026-03-03",
    ]


def test_a_page_of_workouts_takes_as_many_queries_as_one_workout(client, ana, django_assert_max_num_queries):
    for i in range(10):
        imported(ana, csv_file(at(100 * i)))
    with django_assert_max_num_queries(9) as queries:
        assert len(client.get("/api/workouts").json()["results"]) == 10
    assert not any("trace_blob" in query["sql"] for query in queries.captured_queries)


def test_a_workout_that_is_not_there_is_not_found(client):
    answer = client.get("/api/workouts/12345")
    assert answer.status_code == 404
    assert set(answer.json()) == {"title", "detail"}


def test_a_number_that_no_database_holds_is_not_found(client):
    assert client.get(f"/api/workouts/{10**30}").status_code in {404, 422}


def test_an_activity_and_a_rating_can_be_set_together(client, ana):
    changed = part(ana)
    answer = send(client, "PATCH", f"/api/parts/{changed.pk}", {"activity": "lifting", "session_rpe": 7})
    assert answer.status_code == 200
    assert (answer.json()["activity"], answer.json()["session_rpe"]) == ("lifting", 7)
    stored = Part.objects.get()
    assert (stored.activity.slug, stored.session_rpe) == ("lifting", 7)
    assert stored.input_revision > changed.input_revision


def test_what_is_left_out_of_a_change_stays(client, ana):
    changed = part(ana, session_rpe=4)
    send(client, "PATCH", f"/api/parts/{changed.pk}", {"activity": "walk"})
    assert Part.objects.get().session_rpe == 4


def test_a_rating_can_be_taken_back(client, ana):
    changed = part(ana, session_rpe=4)
    assert (
        send(client, "PATCH", f"/api/parts/{changed.pk}", {"session_rpe": None}).json()["session_rpe"] is None
    )
    assert Part.objects.get().session_rpe is None


@pytest.mark.parametrize(
    "change",
    [
        {"session_rpe": 11},
        {"session_rpe": -1},
        {"session_rpe": float("nan")},
        {"session_rpe": "hard"},
        {"activity": "no such"},
        {"activity": ""},
        {"activity": "walk", "session_rpe": 99},
        {"activity": "no such", "session_rpe": 5},
        {"sesion_rpe": 5},
        [],
        None,
    ],
)
def test_a_change_that_cannot_be_is_refused_whole(client, ana, change):
    changed = part(ana)
    answer = send(client, "PATCH", f"/api/parts/{changed.pk}", change)
    assert answer.status_code == 422
    assert set(answer.json()) == {"title", "detail"}
    stored = Part.objects.get()
    assert (stored.activity.slug, stored.session_rpe, stored.input_revision) == ("run", None, 1)


def test_a_body_that_is_no_json_is_not_understood(client, ana):
    answer = client.patch(f"/api/parts/{part(ana).pk}", "{", content_type="application/json")
    assert answer.status_code == 400
    assert answer.json()["title"] == "Not understood"


def test_an_unknown_activity_is_answered_with_those_there_are(client, ana):
    answer = send(client, "PATCH", f"/api/parts/{part(ana).pk}", {"activity": "yoga"})
    assert "“yoga”" in answer.json()["detail"]
    assert "lifting" in answer.json()["detail"]


def test_a_workout_can_be_typed(client, ana):
    typed = {
        "start": "2026-03-02T07:30:00+01:00",
        "minutes": 45,
        "activity": "lifting",
        "session_rpe": 6,
        "note": "gym",
    }
    answer = send(client, "POST", "/api/workouts", typed)
    assert answer.status_code == 201
    assert (answer.json()["note"], answer.json()["parts"][0]["session_rpe"]) == ("gym", 6)
    assert Workout.objects.of(ana).get().start == MORNING


@pytest.mark.parametrize(
    "wrong",
    [
        {"start": "2026-03-02T07:30:00"},
        {"start": "yesterday"},
        {"start": "9999-12-31T23:59:00Z"},
        {"start": "0001-01-01T00:00:00+14:00"},
        {"minutes": 0},
        {"minutes": 1e9},
        {"minutes": float("nan")},
        {"activity": "no such"},
        {"session_rpe": 11},
    ],
)
def test_a_workout_that_cannot_be_is_refused_whole(client, wrong):
    typed = {"start": MORNING.isoformat(), "minutes": 45, "activity": "run"} | wrong
    answer = send(client, "POST", "/api/workouts", typed)
    assert answer.status_code == 422
    assert answer.json()["detail"]
    assert not Workout.objects.exists()


def test_a_typed_workout_over_another_is_refused_with_the_reason(client, ana):
    part(ana, at(0), 60)
    typed = {"start": at(30).isoformat(), "minutes": 60, "activity": "run"}
    answer = send(client, "POST", "/api/workouts", typed)
    assert answer.status_code == 422
    assert "already" in answer.json()["detail"]


def test_an_estimate_shows_its_interval_and_what_it_rests_on(client, ana):
    trained = part(ana)
    shown = estimate(
        trained, 100 * np.exp(0.1 * standard_normals("x")), basis=Basis.ACCEPTED, reason="It will do."
    )
    (answer,) = client.get("/api/estimates", {"from": DAY, "to": DAY}).json()
    assert (answer["part"], answer["workout"], answer["day"]) == (trained.pk, trained.workout_id, DAY)
    assert (answer["activity"], answer["stale"]) == ("run", False)
    load = answer["load"]
    assert (load["low"], load["median"], load["high"]) == (shown.low, shown.median, shown.high)
    assert (load["basis"], load["confidence"], load["reason"]) == ("accepted", "fair", "It will do.")
    assert load["sensor_half_width"] == pytest.approx(0.128, abs=0.005)


def test_a_part_that_was_not_estimated_yet_is_listed_without_load(client, ana):
    part(ana)
    (answer,) = client.get("/api/estimates", {"from": DAY, "to": DAY}).json()
    assert (answer["stale"], answer["load"]) == (True, None)


def test_an_estimate_of_a_part_that_has_changed_since_is_marked_stale(client, ana):
    changed = part(ana)
    estimate(changed)
    send(client, "PATCH", f"/api/parts/{changed.pk}", {"session_rpe": 3})
    (answer,) = client.get("/api/estimates", {"from": DAY, "to": DAY}).json()
    assert answer["stale"] is True
    assert answer["load"]["median"] == 100


def test_the_half_width_of_no_load_is_null_and_not_a_number_json_cannot_hold(client, ana):
    estimate(part(ana), 0)
    answer = client.get("/api/estimates", {"from": DAY, "to": DAY})
    assert answer.json()[0]["load"]["sensor_half_width"] is None
    assert b"Infinity" not in answer.content
    assert b"Infinity" not in client.get(f"/api/weeks/{DAY}").content


def test_without_days_the_last_four_weeks_are_listed(client, ana):
    today = timezone.now().replace(microsecond=0) - timedelta(hours=1)
    inside = part(ana, today - timedelta(days=26), 10)
    part(ana, today - timedelta(days=29), 10)
    assert [one["part"] for one in client.get("/api/estimates").json()] == [inside.pk]


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
def test_days_that_cannot_be_listed_are_refused(client, days):
    assert client.get("/api/estimates", days).status_code == 422


def test_times_are_told_with_their_zone(client, ana):
    part(ana)
    (workout,) = client.get("/api/workouts").json()["results"]
    assert datetime.fromisoformat(workout["start"]).utcoffset() == timedelta(0)
    assert datetime.fromisoformat(workout["start"]).astimezone(UTC) == MORNING


def test_the_description_of_the_api_names_every_operation(client):
    described = client.get("/api/openapi.json").json()
    assert set(described["paths"]) == {
        "/api/files",
        "/api/files/{id}",
        "/api/workouts",
        "/api/workouts/{id}",
        "/api/parts/{id}",
        "/api/estimates",
        "/api/weeks/{day}",
        "/api/check-ins",
        "/api/check-ins/{day}",
        "/api/profiles",
        "/api/pairs",
        "/api/pairs/{id}",
        "/api/strap-plan",
    }


def test_the_page_about_the_api_loads_nothing_from_elsewhere(client):
    page = client.get("/api/docs")
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
