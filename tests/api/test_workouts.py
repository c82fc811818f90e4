from datetime import UTC, datetime, timedelta

import pytest

from tests.builders import MORNING, athlete, csv_file, imported, part, send, sensor
from trainlog.models import Part, Workout
from trainlog.services.tags import describe_workout

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


def at(minutes):
    return MORNING + timedelta(minutes=minutes)


def test_workouts_come_newest_first_in_pages(signed_in, ana):
    for i in range(5):
        part(ana, at(100 * i), 60)
    page = signed_in.get("/api/workouts", {"page_size": 2}).json()
    seen = [one["start"] for one in page["results"]]
    while page["next"]:
        page = signed_in.get(page["next"]).json()
        seen += [one["start"] for one in page["results"]]
    assert [datetime.fromisoformat(start) for start in seen] == [at(100 * i) for i in (4, 3, 2, 1, 0)]


@pytest.mark.parametrize("cursor", ["x", "cD1u", "bz1hYmM=", "é"])
def test_a_damaged_cursor_cannot_be_used(signed_in, cursor):
    assert signed_in.get("/api/workouts", {"cursor": cursor}).status_code == 422


def test_workouts_can_be_asked_for_by_day(signed_in, ana):
    for i in range(4):
        part(ana, at(24 * 60 * i), 60)
    days = {"from": "2026-03-03", "to": "2026-03-04"}
    assert [one["day"] for one in signed_in.get("/api/workouts", days).json()["results"]] == [
        "2026-03-04",
        "2026-03-03",
    ]


def test_a_page_of_workouts_takes_as_many_queries_as_one_workout(
    signed_in, ana, django_assert_max_num_queries
):
    for i in range(10):
        imported(ana, csv_file(at(100 * i)))
    with django_assert_max_num_queries(9) as queries:
        assert len(signed_in.get("/api/workouts").json()["results"]) == 10
    assert not any("trace_blob" in query["sql"] for query in queries.captured_queries)


def test_a_workout_that_is_not_there_is_not_found(signed_in):
    answer = signed_in.get("/api/workouts/12345")
    assert answer.status_code == 404
    assert set(answer.json()) == {"type", "title", "status", "detail"}


def test_a_number_that_no_database_holds_is_not_found(signed_in):
    assert signed_in.get(f"/api/workouts/{10**30}").status_code in {404, 422}


def test_an_activity_and_a_rating_can_be_set_together(signed_in, ana):
    changed = part(ana)
    answer = send(signed_in, "PATCH", f"/api/parts/{changed.pk}", {"activity": "lifting", "session_rpe": 7})
    assert answer.status_code == 200
    assert (answer.json()["activity"], answer.json()["session_rpe"]) == ("lifting", 7)
    stored = Part.objects.get()
    assert (stored.activity.slug, stored.session_rpe) == ("lifting", 7)
    assert stored.input_revision > changed.input_revision


def test_what_is_left_out_of_a_change_stays(signed_in, ana):
    changed = part(ana, session_rpe=4)
    send(signed_in, "PATCH", f"/api/parts/{changed.pk}", {"activity": "walk"})
    assert Part.objects.get().session_rpe == 4


def test_a_rating_can_be_taken_back(signed_in, ana):
    changed = part(ana, session_rpe=4)
    assert (
        send(signed_in, "PATCH", f"/api/parts/{changed.pk}", {"session_rpe": None}).json()["session_rpe"]
        is None
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
def test_a_change_that_cannot_be_is_refused_whole(signed_in, ana, change):
    changed = part(ana)
    answer = send(signed_in, "PATCH", f"/api/parts/{changed.pk}", change)
    assert answer.status_code == 422
    assert set(answer.json()) == {"type", "title", "status", "detail"}
    stored = Part.objects.get()
    assert (stored.activity.slug, stored.session_rpe, stored.input_revision) == ("run", None, 1)


def test_an_unknown_activity_is_answered_with_those_there_are(signed_in, ana):
    answer = send(signed_in, "PATCH", f"/api/parts/{part(ana).pk}", {"activity": "yoga"})
    assert "“yoga”" in answer.json()["detail"]
    assert "lifting" in answer.json()["detail"]


def test_a_workout_can_be_typed(signed_in, ana):
    typed = {
        "start": "2026-03-02T07:30:00+01:00",
        "minutes": 45,
        "activity": "lifting",
        "session_rpe": 6,
        "note": "gym",
    }
    answer = send(signed_in, "POST", "/api/workouts", typed)
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
def test_a_workout_that_cannot_be_is_refused_whole(signed_in, wrong):
    typed = {"start": MORNING.isoformat(), "minutes": 45, "activity": "run"} | wrong
    answer = send(signed_in, "POST", "/api/workouts", typed)
    assert answer.status_code == 422
    assert answer.json()["detail"]
    assert not Workout.objects.exists()


def test_a_typed_workout_over_another_is_refused_with_the_reason(signed_in, ana):
    part(ana, at(0), 60)
    typed = {"start": at(30).isoformat(), "minutes": 60, "activity": "run"}
    answer = send(signed_in, "POST", "/api/workouts", typed)
    assert answer.status_code == 422
    assert "already" in answer.json()["detail"]


def test_times_are_told_with_their_zone(signed_in, ana):
    part(ana)
    (workout,) = signed_in.get("/api/workouts").json()["results"]
    assert datetime.fromisoformat(workout["start"]).utcoffset() == timedelta(0)
    assert datetime.fromisoformat(workout["start"]).astimezone(UTC) == MORNING


def test_a_workout_can_be_typed_with_its_tags(signed_in):
    typed = {"start": MORNING.isoformat(), "minutes": 45, "activity": "run", "tags": ["hot", "Hill"]}
    assert send(signed_in, "POST", "/api/workouts", typed).json()["tags"] == ["Hill", "hot"]


def test_a_typed_workout_whose_tags_cannot_be_is_not_kept(signed_in):
    typed = {"start": MORNING.isoformat(), "minutes": 45, "activity": "run", "tags": ["x" * 41]}
    assert send(signed_in, "POST", "/api/workouts", typed).status_code == 422
    assert not Workout.objects.exists()


def test_note_and_tags_are_changed_apart(signed_in, ana):
    workout = part(ana).workout
    address = f"/api/workouts/{workout.pk}"
    assert send(signed_in, "PATCH", address, {"tags": ["gym"]}).json()["tags"] == ["gym"]
    answer = send(signed_in, "PATCH", address, {"note": "windy"}).json()
    assert (answer["note"], answer["tags"]) == ("windy", ["gym"])


@pytest.mark.parametrize("change", [{"tags": ["a, b"]}, {"tags": "gym"}, {"note": 5}, {"day": "2026-03-02"}])
def test_a_change_of_a_workout_that_cannot_be_is_refused(signed_in, ana, change):
    workout = part(ana).workout
    assert (
        send(signed_in, "PATCH", f"/api/workouts/{workout.pk}", {"note": "new"} | change).status_code == 422
    )
    workout.refresh_from_db()
    assert workout.note == ""


def test_workouts_are_found_by_what_the_page_finds_them_by(signed_in, ana):
    part(ana, at(0), activity="lifting", session_rpe=5)
    noted = part(ana, at(100), activity="lifting").workout
    describe_workout(noted, note="Knee fine", tags=["gym"])
    part(ana, at(200), activity="run")

    def found(**wanted):
        return [one["id"] for one in signed_in.get("/api/workouts", wanted).json()["results"]]

    assert found(text="KNEE") == found(tag="Gym") == found(family="resistance", rated="no") == [noted.pk]
    assert len(found(activity="lifting", worn="nothing")) == 2
    assert found(basis="measured", confidence="firm") == []


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        ({"activity": "yoga"}, "no activity “yoga”"),
        ({"sensor": "77"}, "no sensor 77"),
        ({"sensor": "left"}, "sensor"),
        ({"family": "hard"}, "family"),
        ({"basis": "guessed"}, "basis"),
        ({"rated": "maybe"}, "rated"),
        ({"from": "2026-03-03", "to": "2026-03-02"}, "must not be after"),
    ],
)
def test_a_search_that_cannot_be_is_explained(signed_in, wanted, words):
    answer = signed_in.get("/api/workouts", wanted)
    assert answer.status_code == 422
    assert words in answer.json()["detail"]


def test_a_sensor_of_another_athlete_is_no_sensor_to_search_by(signed_in):
    theirs = sensor(athlete("bo"))
    assert signed_in.get("/api/workouts", {"sensor": theirs.pk}).status_code == 422
