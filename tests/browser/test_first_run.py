"""A first hour: an empty log, three steps, the first pair; the demo; a token; everything taken along."""

from __future__ import annotations

import re
import zipfile

import pytest
from playwright.sync_api import FilePayload, Page, expect

from accuracy.models import Pair
from accuracy.services.learn import learn
from fixtures.demo import scenario as invented
from tests.browser.test_journey import assert_sound, session_file, work_through_the_queue
from tests.builders import athlete, csv_file
from trainlog.models import Athlete, Physiology, Workout
from trainlog.services.demo import demo_of, go_on_making

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path


@pytest.fixture
def cora(page, live_server) -> Athlete:
    """Someone with an empty log, who has signed in."""
    owner = athlete("cora")
    page.goto(f"{live_server.url}/sign-in")
    page.get_by_label("Username").fill("cora")
    page.get_by_label("Password").fill("a long password")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{live_server.url}/")
    return owner


def add(page: Page, *files: FilePayload) -> None:
    page.locator("#files").set_input_files(list(files))


def name_sensor(page: Page, name: str, site: str, principle: str) -> None:
    """Say of the file asked about that a new sensor made it."""
    page.get_by_role("link", name=re.compile("Say which sensor this was|Another sensor")).first.click()
    page.get_by_label("Name").fill(name)
    page.get_by_label(site, exact=True).check()
    page.get_by_label(principle, exact=True).check()
    page.get_by_role("button", name=re.compile("Add|Save")).click()


def steady(device: str, bpm: float) -> FilePayload:
    content = csv_file(minutes=20, bpm=bpm, device=device)
    return {"name": f"{device}.csv", "mimeType": "text/csv", "buffer": content}


def test_an_empty_log_leads_to_the_first_pair_in_three_steps(page, live_server, cora):
    steps = page.locator(".first li")
    expect(steps).to_have_count(3)
    expect(steps.nth(0)).to_contain_text("next")
    assert_sound(page)

    page.get_by_role("link", name="Enter them").click()
    page.get_by_label("Resting heart rate").fill("50")
    page.locator("#id_age").fill("40")
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(f"{live_server.url}/")
    assert Physiology.objects.of(cora).get().maximum_rate == 180
    expect(steps.nth(0)).to_contain_text("done")
    expect(steps.nth(1)).to_contain_text("next")

    add(page, session_file(0, "left", 0.85))
    expect(page.locator("#progress")).to_contain_text("left.csv")
    work_through_the_queue(cora)
    page.reload()
    expect(steps.nth(1)).to_contain_text("which sensor it was")
    name_sensor(page, "left wrist", "wrist", "optical")
    page.goto(live_server.url)
    expect(steps.nth(1)).to_contain_text("Missing: the file of the chest strap.")
    assert_sound(page)

    add(page, session_file(0, "chest", 1.0))
    expect(page.locator("#progress")).to_contain_text("chest.csv")
    work_through_the_queue(cora)
    page.reload()
    name_sensor(page, "belt", "chest", "electrical")
    work_through_the_queue(cora)
    page.goto(live_server.url)
    told = page.get_by_text("You have a first pair:")
    expect(told).to_be_visible()
    expect(steps).to_have_count(0)
    assert_sound(page)
    page.get_by_role("link", name="Look at the pair").click()
    expect(page).to_have_url(f"{live_server.url}/sensors/pairs/{Pair.objects.of(cora).get().pk}")


def test_steady_files_of_both_sensors_make_a_pair_too(page, live_server, cora):
    add(page, steady("left", 130), steady("chest", 140))
    expect(page.locator("#progress")).to_contain_text("chest.csv")
    work_through_the_queue(cora)
    page.reload()
    expect(page.locator(".asks")).to_have_count(2)
    assert Workout.objects.of(cora).count() == 1


def test_the_demo_is_looked_at_apart_from_the_log_and_removed(page, live_server, cora, monkeypatch):
    whole = invented.scenario
    monkeypatch.setattr(invented, "scenario", lambda last_day: whole(last_day, 2))
    page.get_by_role("button", name="Look at a demo first").click()
    banner = page.get_by_role("complementary", name="Demo")
    expect(banner).to_contain_text("You are looking at an invented demo.")
    expect(banner).to_contain_text("files read")
    assert_sound(page)
    demo = demo_of(cora.user)
    assert go_on_making(demo.pk)
    expect(banner).to_contain_text("All of it is there")
    expect(page.locator(".lines li").first).to_be_visible()
    while not learn(demo):
        pass
    for path in ("/", "/week", "/sensors/", "/account"):
        page.goto(live_server.url + path)
        expect(banner).to_be_visible()
        assert_sound(page)
    expect(page.locator("#files")).to_have_count(0)
    page.goto(f"{live_server.url}/account/take")
    page.locator("main").get_by_role("button", name="Back to your own log").click()
    expect(page.get_by_text("Three steps to a load")).to_be_visible()
    expect(banner).to_have_count(0)

    page.goto(f"{live_server.url}/demo")
    assert_sound(page)
    page.get_by_role("button", name="Remove the demo").click()
    expect(page.get_by_text("none of its rows and files is left")).to_be_visible()
    assert list(Athlete.objects.all()) == [cora]


def test_a_token_is_made_and_everything_is_taken_along_imported_and_deleted(
    page, live_server, cora, tmp_path
):
    page.goto(f"{live_server.url}/account")
    assert_sound(page)
    page.get_by_role("link", name="Programs").click()
    page.get_by_label("Which program it is for").fill("my script")
    page.get_by_role("button", name="Make a token").click()
    secret = page.locator(".token").inner_text()
    assert_sound(page)
    answer = page.request.get(
        f"{live_server.url}/api/workouts", headers={"Authorization": f"Bearer {secret}", "Cookie": ""}
    )
    assert answer.status == 200
    page.get_by_role("button", name=re.compile("Revoke")).click()
    expect(page.get_by_text("No program has one.")).to_be_visible()

    page.goto(live_server.url)
    add(page, steady("left", 130))
    expect(page.locator("#progress")).to_contain_text("left.csv")
    work_through_the_queue(cora)
    page.goto(f"{live_server.url}/account/take")
    assert_sound(page)
    with page.expect_download() as download:
        page.get_by_role("link", name="Export everything").click()
    file = tmp_path / "whole.zip"
    download.value.save_as(file)
    assert any(name.startswith("originals/") for name in zipfile.ZipFile(file).namelist())

    page.goto(f"{live_server.url}/account/delete")
    assert_sound(page)
    page.get_by_label("The name you sign in with").fill("cora")
    page.get_by_label("Your password").fill("a long password")
    page.get_by_role("button", name="Delete everything for good").click()
    expect(page.get_by_role("heading", name="Nothing is left")).to_be_visible()
    assert_sound(page)
    assert not Athlete.objects.exists()

    dora = athlete("dora")
    page.get_by_role("link", name="Sign in with another name").click()
    page.get_by_label("Username").fill("dora")
    page.get_by_label("Password").fill("a long password")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("link", name="import a whole export").click()
    page.get_by_label("Whole export, a ZIP").set_input_files(file)
    page.get_by_role("button", name="Import everything").click()
    expect(page.get_by_text("1 workouts and 1 files are imported")).to_be_visible()
    assert Workout.objects.of(dora).count() == 1
