"""What is said of files on their way: how far they are, what was found, and what to fix."""

# mypy: disable-error-code="union-attr"

from datetime import timedelta

import numpy as np
import pytest
from django.utils import timezone

from fixtures import csv_writer
from tests.builders import MORNING, athlete, csv_file, imported, part, sensor, strap
from trainlog.models import Recording
from trainlog.services.delete_workouts import delete_workout
from trainlog.services.deletions import deleted_hashes
from trainlog.services.import_files import receive, receive_all
from trainlog.services.progress import said_of, waiting
from trainlog.trace import Trace

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


@pytest.fixture
def ana():
    owner = athlete()
    sensor(owner, "left wrist", source_key="csv:left")
    strap(owner, "belt", source_key="csv:chest")
    return owner


def found(owner):
    return {one.file.file_name: one for one in waiting(owner)["read"]}


def said(owner, content, name="a.csv"):
    return said_of(owner, receive_all(owner, name, content), deleted_hashes(owner))


def test_files_of_one_go_are_counted_together(ana):
    for minutes in range(10, 14):
        receive(ana, f"{minutes}.csv", csv_file(minutes=minutes))
    imported(ana, csv_file(minutes=20, device="left"))
    shown = waiting(ana)
    assert (shown["read_so_far"], shown["in_one_go"], shown["received_count"]) == (1, 5, 4)


def test_files_of_another_go_are_not_counted_with_them(ana):
    imported(ana, csv_file(device="left"))
    Recording.objects.update(received_at=timezone.now() - timedelta(minutes=5))
    receive(ana, "b.csv", csv_file(minutes=20))
    shown = waiting(ana)
    assert (shown["read_so_far"], shown["in_one_go"]) == (0, 1)


def test_a_file_that_waits_since_long_is_still_counted(ana):
    receive(ana, "old.csv", csv_file())
    Recording.objects.update(received_at=timezone.now() - timedelta(hours=5))
    receive(ana, "b.csv", csv_file(minutes=20))
    assert waiting(ana)["in_one_go"] == 2


def test_of_many_waiting_files_a_few_are_named_and_the_others_counted(ana):
    Recording.objects.bulk_create(
        Recording(owner=ana, sha256=f"{number}", file_name=f"{number}.csv", byte_count=1)
        for number in range(200)
    )
    shown = waiting(ana)
    assert [len(shown["received"]), shown["more_waiting"], shown["in_one_go"]] == [5, 195, 200]


def test_the_missing_seconds_of_a_file_are_told(ana):
    rates = np.full(600, 140.0)
    rates[100:160] = np.nan
    imported(ana, csv_writer.write(Trace(MORNING, rates), "left", []), "holes.csv")
    assert found(ana)["holes.csv"].missing_seconds == 60


def test_two_sensors_of_one_session_are_told_to_make_a_pair(ana):
    imported(ana, csv_file(device="left"), "left.csv")
    assert found(ana)["left.csv"].pair == "no strap file of this session yet"
    imported(ana, csv_file(device="chest"), "chest.csv")
    assert found(ana)["left.csv"].pair == "makes a pair with belt"
    assert found(ana)["chest.csv"].pair == "makes a pair with left wrist"


def test_what_was_done_is_told(ana):
    imported(ana, csv_file(device="left", sports=("running", "lifting")), "a.csv")
    assert found(ana)["a.csv"].what == "run + lifting"


def test_a_file_that_is_there_already_is_told_with_its_workout(ana):
    imported(ana, csv_file(), "a.csv")
    (one,) = said(ana, csv_file(), "again.csv")
    assert one.kind == "known"
    assert one.text == "a.csv is in your log already: run of 2 March 2026. Nothing was added."


def test_a_file_added_twice_before_it_is_read_is_told_to_wait(ana):
    receive(ana, "a.csv", csv_file())
    assert [one.text for one in said(ana, csv_file())] == [
        "a.csv was added already and is waiting to be read."
    ]


def test_a_refused_file_that_is_added_again_is_tried_again_and_no_duplicate(ana):
    imported(ana, b"nothing of use", "a.csv")
    assert said(ana, b"nothing of use") == []
    assert Recording.objects.get().state == "received"


def test_a_file_that_was_deleted_lately_is_told_to_be_imported_anew(ana):
    delete_workout(imported(ana, csv_file(), "a.csv").workout)
    (one,) = said(ana, csv_file())
    assert one.kind == "anew"
    assert "was deleted lately and is imported anew" in one.text


def test_a_new_file_needs_no_word(ana):
    part(ana, MORNING + timedelta(days=1))
    assert said(ana, csv_file()) == []


def test_the_questions_have_the_same_name_until_there_is_another(ana):
    imported(ana, csv_file(MORNING, device="third"), "a.csv")
    asked = waiting(ana)["asked"]
    imported(ana, csv_file(MORNING + timedelta(days=1), device="third"), "b.csv")
    assert waiting(ana)["asked"] == asked
    imported(ana, csv_file(MORNING + timedelta(days=2), device="fourth"), "c.csv")
    assert waiting(ana)["asked"] != asked
