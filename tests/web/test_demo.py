from io import BytesIO

import pytest

from fixtures.demo import scenario as invented
from tests.builders import athlete, csv_file, part
from trainlog.models import Athlete, Recording, Workout
from trainlog.services.demo import demo_of, go_on_making

pytestmark = pytest.mark.django_db

BANNER = "You are looking at an invented demo."


@pytest.fixture(autouse=True)
def short(monkeypatch, settings, tmp_path):
    settings.DATA_FOLDER = tmp_path
    whole = invented.scenario
    monkeypatch.setattr(invented, "scenario", lambda last_day: whole(last_day, 1))


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


@pytest.fixture
def demo(client, ana):
    """Ana looks at her demo, all of which is there."""
    client.post("/demo")
    made = demo_of(ana.user)
    go_on_making(made.pk)
    return made


def page(client, address="/", **kwargs):
    return client.get(address, **kwargs).content.decode()


def test_the_demo_is_shown_in_place_of_the_persons_log_and_every_page_says_so(client, ana, demo):
    own = part(ana).workout
    for address in ("/", "/week", "/check-in", "/sensors/", "/account", "/method"):
        assert BANNER in page(client, address)
    assert client.get(f"/workouts/{own.pk}").status_code == 404
    shown = Workout.objects.of(demo).first()
    assert client.get(f"/workouts/{shown.pk}").status_code == 200


def test_back_to_the_persons_log_leaves_the_demo_where_it_is(client, ana, demo):
    own = part(ana).workout
    client.post("/demo/leave")
    assert BANNER not in page(client)
    assert client.get(f"/workouts/{own.pk}").status_code == 200
    assert demo_of(ana.user) == demo


def test_how_far_the_demo_is_is_told_until_all_of_it_is_there(client, ana):
    client.post("/demo")
    assert 'hx-get="/demo/progress"' in page(client)
    assert "0 of about 140 files read" in page(client, "/demo/progress")
    go_on_making(demo_of(ana.user).pk)
    told = client.get("/demo/progress?seen=0-False")
    assert told["HX-Trigger"] == "log-changed"
    assert "All of it is there" in told.content.decode()
    assert 'hx-get="/demo/progress"' not in page(client)


def test_the_demo_takes_no_files_by_whichever_page(client, ana, demo):
    before = Recording.objects.count()
    for address, headers in (("/files", {}), ("/files", {"HX-Request": "true"}), ("/check-in", {})):
        file = BytesIO(csv_file())
        file.name = "own.csv"
        answer = client.post(address, {"files": file}, headers=headers)
        assert "The demo takes no files" in answer.content.decode()
    assert Recording.objects.count() == before


def test_programs_keep_to_the_persons_own_log(client, ana, demo):
    own = part(ana).workout
    assert [row["id"] for row in client.get("/api/workouts").json()["results"]] == [own.pk]


def test_removing_the_demo_goes_back_to_an_untouched_log(client, ana, demo):
    own = part(ana).workout
    shown = client.post("/demo/remove", follow=True).content.decode()
    assert "none of its rows and files is left" in shown
    assert BANNER not in shown
    assert list(Workout.objects.values_list("pk", flat=True)) == [own.pk]
    assert Athlete.objects.count() == 1


def test_a_demo_removed_in_another_browser_is_no_longer_looked_at(client, ana, demo):
    other = type(client)()
    other.force_login(ana.user)
    other.post("/demo/remove")
    assert BANNER not in page(client)


def test_the_demo_is_nobody_elses(client, ana, demo):
    other = type(client)()
    other.force_login(athlete("ben").user)
    assert BANNER not in page(other)
    assert other.get(f"/workouts/{Workout.objects.of(demo).first().pk}").status_code == 404
