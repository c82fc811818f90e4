from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from tests.builders import MORNING, athlete, csv_file, estimate, imported, part, sensor, strap
from trainlog.models import Physiology, Recording, SweepRun, Workout
from trainlog.services.import_files import read_recording, receive
from trainlog.services.progress import waiting

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def upload(client, *files, **kwargs):
    chosen = [SimpleUploadedFile(name, content) for name, content in files]
    return client.post("/files", {"files": chosen}, **kwargs)


def test_files_of_one_drop_are_kept_and_wait(client, ana):
    response = upload(client, ("a.csv", csv_file(bpm=120)), ("b.csv", csv_file(bpm=140)))
    assert response.status_code == 302
    assert sorted(Recording.objects.of(ana).values_list("file_name", flat=True)) == ["a.csv", "b.csv"]
    assert "waiting" in client.get("/").content.decode()


def test_a_file_that_cannot_be_kept_does_not_hold_up_the_others(client, ana):
    response = upload(client, ("empty.csv", b""), ("good.csv", csv_file()))
    shown = client.get(response["Location"]).content.decode()
    assert "empty.csv: The file is empty" in shown
    assert Recording.objects.of(ana).get().file_name == "good.csv"


def test_no_file_at_all_is_explained(client, ana):
    assert "Choose at least one file" in client.post("/files", follow=True).content.decode()


def test_htmx_gets_only_the_progress_and_keeps_asking_while_something_waits(client, ana):
    shown = upload(client, ("a.csv", csv_file()), headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in shown
    assert 'hx-trigger="every 2s"' in shown


def test_asking_ends_when_nothing_waits_and_the_log_is_told(client, ana):
    sensor(ana)
    receive(ana, "a.csv", csv_file())
    read_recording(Recording.objects.get().pk)
    response = client.get("/files/progress?seen=1-0", headers={"HX-Request": "true"})
    assert "every 2s" not in response.content.decode()
    assert response["HX-Trigger"] == "log-changed"


def test_asking_goes_on_while_a_load_is_being_estimated(client, ana):
    Physiology.objects.create(owner=ana, from_day=MORNING.date(), resting_rate=50, maximum_rate=190)
    one = part(ana)
    waits = client.get("/files/progress?seen=0-1", headers={"HX-Request": "true"})
    assert 'hx-get="/files/progress?seen=0-1&amp;asked=' in waits.content.decode()
    assert "HX-Trigger" not in waits
    estimate(one)
    done = client.get("/files/progress?seen=0-1", headers={"HX-Request": "true"})
    assert "every 2s" not in done.content.decode()
    assert done["HX-Trigger"] == "log-changed"


def test_a_refused_file_shows_why_and_can_be_dismissed(client, ana):
    recording = imported(ana, b"no heart rate in here", "shopping.txt")
    shown = client.get("/files/progress").content.decode()
    assert "refused" in shown
    assert recording.problem[:20] in shown
    client.post(f"/files/{recording.pk}/delete")
    assert not Recording.objects.exists()


def test_a_refused_file_can_be_tried_again(client, ana):
    recording = imported(ana, b"no heart rate in here", "shopping.txt")
    client.post(f"/files/{recording.pk}/again")
    recording.refresh_from_db()
    assert recording.state == Recording.State.RECEIVED


def test_the_columns_of_a_text_file_can_be_told(client, ana):
    rows = "\n".join(f"{second};{120 + second % 7}" for second in range(120))
    recording = imported(ana, f"tick;pulse\n{rows}\n".encode(), "pulse.csv")
    assert "Say which columns hold what" in client.get("/files/progress").content.decode()
    told = {"time": "tick", "heart_rate": "pulse", "start": "2026-03-02T07:00"}
    client.post(f"/files/{recording.pk}/again", told)
    read_recording(recording.pk)
    recording.refresh_from_db()
    assert (recording.state, recording.seconds) == (Recording.State.READ, 120)
    assert recording.start == MORNING.replace(hour=7, minute=0)


def test_a_start_that_is_no_time_is_explained(client, ana):
    recording = imported(ana, b"no heart rate in here", "shopping.txt")
    response = client.post(f"/files/{recording.pk}/again", {"start": "noon"}, follow=True)
    assert "give the start as a date and a time" in response.content.decode()


def test_one_question_is_asked_for_files_of_the_same_source(client, ana):
    for bpm in (120, 130, 140):
        imported(ana, csv_file(bpm=bpm), f"{bpm}.csv")
    sensor(ana, "left wrist")
    shown = client.get("/files/progress").content.decode()
    assert shown.count("which sensor?") == 1
    assert "and 2 more from the same source" in shown


def test_the_answer_holds_for_all_files_of_the_source(client, ana):
    first, second = imported(ana, csv_file(bpm=120), "a.csv"), imported(ana, csv_file(bpm=130), "b.csv")
    wrist = sensor(ana)
    client.post(f"/files/{first.pk}/sensor", {"sensor": wrist.pk})
    second.refresh_from_db()
    assert second.sensor == wrist


def test_the_question_offers_to_add_a_sensor_where_there_is_none(client, ana):
    recording = imported(ana, csv_file())
    assert f"/sensors/new?recording={recording.pk}" in client.get("/files/progress").content.decode()


def test_a_sensor_of_someone_else_is_no_answer(client, ana):
    recording = imported(ana, csv_file())
    theirs = strap(athlete("bo"))
    client.post(f"/files/{recording.pk}/sensor", {"sensor": theirs.pk})
    recording.refresh_from_db()
    assert recording.sensor is None


def test_a_recording_goes_with_its_workout(client, ana):
    recording = imported(ana, csv_file())
    response = client.post(f"/files/{recording.pk}/delete")
    assert response["Location"] == "/"
    assert not Workout.objects.exists()


def test_the_original_comes_back_as_it_was(client, ana):
    content = csv_file()
    recording = imported(ana, content, "morning.csv")
    response = client.get(f"/files/{recording.pk}/original")
    assert b"".join(response.streaming_content) == content
    assert "attachment" in response["Content-Disposition"]


@pytest.mark.parametrize(
    ("method", "address"),
    [
        ("post", "/files/{pk}/sensor"),
        ("post", "/files/{pk}/again"),
        ("post", "/files/{pk}/delete"),
        ("get", "/files/{pk}/original"),
    ],
)
def test_recordings_of_others_are_not_found(client, ana, method, address):
    recording = imported(athlete("bo"), csv_file())
    assert getattr(client, method)(address.format(pk=recording.pk)).status_code == 404


@pytest.mark.parametrize("address", ["/files", "/files/1/sensor", "/files/1/again", "/files/1/delete"])
def test_changes_are_posted(client, ana, address):
    assert client.get(address).status_code == 405


def waiting_since(owner, minutes):
    recording = receive(owner, "old.csv", csv_file())
    Recording.objects.filter(pk=recording.pk).update(received_at=timezone.now() - timedelta(minutes=minutes))


def test_files_that_nothing_takes_up_are_told_with_when_work_was_last_seen(client, ana):
    waiting_since(ana, minutes=10)
    SweepRun.objects.create(pk=SweepRun.THE_ONE, ended_at=timezone.now() - timedelta(minutes=9))
    assert (
        "nothing takes them up: the background work last looked on"
        in client.get("/files/progress").content.decode()
    )


def test_files_that_wait_behind_others_are_no_alarm_while_the_sweep_goes_on(client, ana):
    waiting_since(ana, minutes=10)
    SweepRun.objects.create(pk=SweepRun.THE_ONE, ended_at=timezone.now())
    assert "nothing takes them up" not in client.get("/files/progress").content.decode()


def test_a_file_that_only_lacks_its_start_is_asked_for_that_alone(client, ana):
    imported(ana, b"time,hr\n" + b"\n".join(b"%d,%d" % (s, 120 + s % 9) for s in range(600)), "elapsed.csv")
    page = client.get("/files/progress").content.decode()
    assert "Say when it began" in page
    assert 'name="heart_rate"' not in page


def test_a_duplicate_is_told_and_stays_told_while_the_page_asks_on(client, ana):
    imported(ana, csv_file(), "a.csv")
    shown = upload(client, ("again.csv", csv_file()), headers=HTMX).content.decode()
    assert "a.csv is in your log already: run of 2 March 2026." in shown
    assert '<div id="said" hx-swap-oob="innerHTML">' in shown
    polled = client.get("/files/progress?seen=0-0", headers=HTMX).content.decode()
    assert 'id="said"' not in polled


def test_a_duplicate_is_told_without_javascript_too(client, ana):
    imported(ana, csv_file(), "a.csv")
    shown = client.get(upload(client, ("again.csv", csv_file()))["Location"]).content.decode()
    assert "is in your log already" in shown


def test_a_form_that_is_being_filled_in_is_not_sent_anew(client, ana):
    imported(ana, csv_file(), "a.csv")
    asked = waiting(ana)["asked"]
    same = client.get(f"/files/progress?seen=0-0&asked={asked}", headers=HTMX).content.decode()
    assert "which sensor?" not in same
    other = client.get("/files/progress?seen=0-0&asked=other", headers=HTMX).content.decode()
    assert "which sensor?" in other


def test_a_running_count_is_shown_and_spoken(client, ana):
    sensor(ana, source_key="csv:wrist 1")
    imported(ana, csv_file(minutes=10))
    receive(ana, "b.csv", csv_file(minutes=20))
    shown = client.get("/files/progress?seen=9-0", headers=HTMX).content.decode()
    assert '<progress id="so-far" value="1" max="2">' in shown
    assert "1 of 2 files read." in shown
