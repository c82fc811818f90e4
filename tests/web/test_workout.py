from datetime import timedelta

import pytest

from tests.builders import MORNING, activity_of, athlete, csv_file, estimate, imported, part, sensor, strap
from trainlog.models import Basis, Part, Physiology, Workout
from trainlog.services.tags import set_tags

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    Physiology.objects.create(owner=owner, from_day=MORNING.date(), resting_rate=50, maximum_rate=190)
    return owner


def page(client, workout):
    response = client.get(f"/workouts/{workout.pk}")
    assert response.status_code == 200
    return response.content.decode()


def test_a_workout_shows_its_load_and_why_it_is_so_sure(client, ana):
    one = part(ana)
    row = estimate(one, 120.0, basis=Basis.CORRECTED, reason="Reads 15% low in 4 pairs.")
    row.raw = 102.0
    row.save()
    shown = page(client, one.workout)
    assert "<b>120</b>" in shown
    assert "Reads 15% low in 4 pairs." in shown


def test_the_chart_holds_the_traces_by_role(client, ana):
    strap(ana, source_key="")
    one = imported(ana, csv_file(bpm=140, device="chest"), "strap.csv")
    two = imported(ana, csv_file(bpm=120, device="wrist"), "wrist.csv")
    one.sensor, two.sensor = strap(ana, "belt"), sensor(ana, "left wrist")
    one.save()
    two.save()
    assert "The traces in figures" in page(client, one.workout)
    spec = client.get(f"/workouts/{one.workout_id}/chart.json").json()
    styles = [layer["mark"]["style"] for layer in spec["layer"]]
    assert "reference" in styles
    assert "tested" in styles


def test_the_chart_is_asked_for_with_what_was_learned_and_failing_that_without(client, ana):
    one = imported(ana, csv_file(bpm=140, device="chest"))
    key = one.workout_id
    expected = f'data-chart-url="/sensors/workouts/{key}/chart.json /workouts/{key}/chart.json"'
    assert expected in page(client, one.workout)


def test_a_typed_workout_has_no_chart_to_hand_out(client, ana):
    assert client.get(f"/workouts/{part(ana).workout_id}/chart.json").status_code == 404


def test_a_typed_workout_has_no_chart_and_loads_no_chart_library(client, ana):
    shown = page(client, part(ana).workout)
    assert "vega_embed" not in shown
    assert "typed in" in shown


def test_findings_come_from_another_room_by_address(client, ana):
    recording = imported(ana, csv_file())
    one = Part.objects.get(workout=recording.workout)
    estimate(one)
    assert f'hx-get="/sensors/parts/{one.pk}/findings"' in page(client, recording.workout)


def test_the_activity_of_a_part_can_be_set(client, ana):
    one = part(ana)
    response = client.post(f"/parts/{one.pk}/activity", {"activity": activity_of(ana, "row").pk})
    one.refresh_from_db()
    assert response["Location"] == f"/workouts/{one.workout_id}"
    assert one.activity.slug == "row"


def test_an_activity_of_someone_else_is_refused_beside_the_field(client, ana):
    one, theirs = part(ana), activity_of(athlete("bo"), "row")
    response = client.post(f"/parts/{one.pk}/activity", {"activity": theirs.pk})
    assert response.status_code == 422
    assert "Select a valid choice" in response.content.decode()


@pytest.mark.parametrize(("typed", "kept"), [("7", 7.0), ("6.5", 6.5), ("", None)])
def test_a_rating_can_be_given_and_taken_back(client, ana, typed, kept):
    one = part(ana, session_rpe=3)
    client.post(f"/parts/{one.pk}/session-rpe", {"session_rpe": typed})
    one.refresh_from_db()
    assert one.session_rpe == kept


def test_a_rating_off_the_scale_is_explained(client, ana):
    one = part(ana, session_rpe=3)
    response = client.post(f"/parts/{one.pk}/session-rpe", {"session_rpe": "11"})
    assert response.status_code == 422
    assert "less than or equal to 10" in response.content.decode()
    one.refresh_from_db()
    assert one.session_rpe == 3


def test_a_part_can_be_split_and_joined_again(client, ana):
    one = part(ana, minutes=60)
    client.post(f"/parts/{one.pk}/split", {"minutes": "25"})
    assert [row.seconds for row in one.workout.parts.all()] == [25 * 60, 35 * 60]
    client.post(f"/parts/{one.pk}/join")
    assert Part.objects.of(ana).get().seconds == 3600


def test_a_cut_outside_the_part_is_explained(client, ana):
    one = part(ana, minutes=60)
    response = client.post(f"/parts/{one.pk}/split", {"minutes": "60"})
    assert response.status_code == 422
    assert "at least a minute" in response.content.decode()


@pytest.mark.parametrize("typed", ["25:30", "25.5", "0:25:30"])
def test_a_boundary_is_moved_to_a_time_since_the_workout_began(client, ana, typed):
    one = part(ana, minutes=60)
    client.post(f"/parts/{one.pk}/split", {"minutes": "20"})
    answer = client.post(f"/parts/{one.pk}/boundary", {"minutes": typed}, follow=True)
    assert [row.seconds for row in one.workout.parts.all()] == [25.5 * 60, 34.5 * 60]
    assert "moved to 25:30; it was at 20:00" in answer.content.decode()


@pytest.mark.parametrize(
    ("typed", "explained"),
    [("59:30", "at least a minute"), ("0:30", "at least a minute"), ("soon", "like 41:04"), ("", "required")],
)
def test_a_boundary_that_cannot_be_there_is_explained(client, ana, typed, explained):
    one = part(ana, minutes=60)
    client.post(f"/parts/{one.pk}/split", {"minutes": "20"})
    answer = client.post(f"/parts/{one.pk}/boundary", {"minutes": typed})
    assert answer.status_code == 422
    assert explained in answer.content.decode()
    assert "data-edit-parts open" in answer.content.decode()
    assert [row.seconds for row in one.workout.parts.all()] == [20 * 60, 40 * 60]


def test_the_last_part_has_no_boundary_to_move(client, ana):
    answer = client.post(f"/parts/{part(ana).pk}/boundary", {"minutes": "20"})
    assert "no part after this one" in answer.content.decode()


def test_parts_are_chosen_by_links_that_lead_to_them(client, ana):
    one = part(ana, minutes=60)
    client.post(f"/parts/{one.pk}/split", {"minutes": "20"})
    for row in one.workout.parts.all():
        shown = page(client, one.workout)
        assert f'href="#part-{row.pk}"' in shown
        assert f'id="part-{row.pk}"' in shown


def test_joining_the_last_part_says_why_it_cannot_be(client, ana):
    one = part(ana)
    assert "no part after this one" in client.post(f"/parts/{one.pk}/join", follow=True).content.decode()


def test_a_note_is_kept_and_shown_as_text(client, ana):
    one = part(ana)
    client.post(f"/workouts/{one.workout_id}/note", {"note": "<script>felt good</script>"})
    shown = page(client, one.workout)
    assert "&lt;script&gt;felt good" in shown


def test_deleting_asks_first(client, ana):
    one = part(ana)
    address = f"/workouts/{one.workout_id}/delete"
    assert "For 30 days you can put it back" in client.get(address).content.decode()
    assert Workout.objects.of(ana).exists()
    client.post(address)
    assert not Workout.objects.of(ana).exists()


def test_tags_are_kept_with_the_note_and_shown_on_the_log(client, ana):
    one = part(ana)
    client.post(f"/workouts/{one.workout_id}/note", {"note": "windy", "tags": "hot, <b>hill</b>"})
    assert 'value="&lt;b&gt;hill&lt;/b&gt;, hot"' in page(client, one.workout)
    shown = client.get("/").content.decode()
    assert "&lt;b&gt;hill&lt;/b&gt;</a>" in shown
    assert 'href="/?tag=hot"' in shown


def test_own_tags_are_offered_after_those_that_are_there(client, ana):
    other = part(ana, MORNING + timedelta(days=1)).workout
    set_tags(other, ["gym"])
    one = part(ana)
    set_tags(one.workout, ["hot"])
    assert '<option value="hot, gym">' in page(client, one.workout)


def test_too_long_a_tag_is_explained_beside_the_field_and_nothing_is_kept(client, ana):
    one = part(ana)
    response = client.post(f"/workouts/{one.workout_id}/note", {"note": "windy", "tags": "x" * 41})
    assert response.status_code == 422
    assert "A tag has at most 40 characters" in response.content.decode()
    one.workout.refresh_from_db()
    assert one.workout.note == ""


@pytest.mark.parametrize(
    ("method", "address"),
    [
        ("get", "/workouts/{workout}"),
        ("post", "/workouts/{workout}/note"),
        ("get", "/workouts/{workout}/delete"),
        ("post", "/workouts/{workout}/delete"),
        ("post", "/parts/{part}/activity"),
        ("post", "/parts/{part}/session-rpe"),
        ("post", "/parts/{part}/split"),
        ("post", "/parts/{part}/join"),
        ("post", "/parts/{part}/boundary"),
        ("get", "/workouts/{workout}/chart.json"),
    ],
)
def test_workouts_of_others_are_not_found(client, ana, method, address):
    theirs = part(athlete("bo"), MORNING + timedelta(days=1))
    found = getattr(client, method)(address.format(workout=theirs.workout_id, part=theirs.pk))
    assert found.status_code == 404
    assert Workout.objects.filter(pk=theirs.workout_id).exists()


def test_a_part_shows_its_load_in_every_measure(client, ana):
    made = part(ana, session_rpe=5)
    for measure, load in (("trimp", 80.0), ("zones", 150.0), ("session_rpe", 300.0)):
        estimate(made, load, measure=measure)
    shown = client.get(f"/workouts/{made.workout_id}").content.decode()
    for label in ("training impulse (Banister)", "summated zones (Edwards)", "session-RPE (Foster)"):
        assert label in shown
    assert "as rated" in shown
