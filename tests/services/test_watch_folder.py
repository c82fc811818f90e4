"""A watched folder: what has settled is imported as an upload would be, and nothing in it is touched."""

import io
import os
import zipfile

import pytest
from django.db import OperationalError

from tests.builders import athlete, csv_file, imported, sensor
from trainlog.models import Recording, Workout
from trainlog.services import import_files, watch_folder
from trainlog.services.delete_workouts import delete_workout
from trainlog.services.watch_folder import Watch, look

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def one_connection(monkeypatch):
    """A look closes old connections at its end, which on PostgreSQL would end the test's transaction."""
    monkeypatch.setattr("trainlog.services.watch_folder.close_old_connections", lambda: None)


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path / "data"
    return settings.DATA_FOLDER


@pytest.fixture
def ana():
    owner = athlete()
    sensor(owner, "left wrist", source_key="csv:wrist 1")
    return owner


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "from the watch"
    made.mkdir()
    return made


def said(owner, watch, looks=1):
    return [line.text for _ in range(looks) for line in look(owner, watch, lambda: False)]


def test_a_file_is_taken_once_it_is_the_same_at_two_looks(ana, folder):
    (folder / "a.csv").write_bytes(csv_file())
    watch = Watch(folder)
    assert said(ana, watch) == []
    assert said(ana, watch) == ["a.csv: run of 2 March 2026, 10 min, left wrist"]
    assert said(ana, watch) == []
    assert Recording.objects.get().state == "read"


def test_a_file_that_is_still_being_copied_waits(ana, folder):
    content, path, watch = csv_file(), folder / "a.csv", Watch(folder)
    for share in (0.3, 0.6, 1):
        path.write_bytes(content[: round(share * len(content))])
        assert said(ana, watch) == []
    assert len(said(ana, watch)) == 1
    assert Recording.objects.get().byte_count == len(content)


def test_the_folder_is_left_as_it_is(ana, folder):
    (folder / "a.csv").write_bytes(csv_file())
    (folder / "b.txt").write_bytes(b"milk, eggs")
    before = {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in folder.iterdir()}
    said(ana, Watch(folder), looks=2)
    assert {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in folder.iterdir()} == before


def test_a_changed_file_is_taken_again(ana, folder):
    path, watch = folder / "a.csv", Watch(folder)
    path.write_bytes(csv_file(minutes=10))
    said(ana, watch, looks=2)
    path.write_bytes(csv_file(minutes=20))
    assert said(ana, watch, looks=2) == ["a.csv: run of 2 March 2026, 20 min, left wrist"]
    assert Recording.objects.count() == 2


def test_a_file_that_is_in_the_log_changes_nothing_and_says_so(ana, folder):
    imported(ana, csv_file())
    (folder / "a.csv").write_bytes(csv_file())
    lines = list(look(ana, settled(folder), lambda: False))
    assert [line.known for line in lines] == [True]
    assert lines[0].text == "a.csv: in the log already, run of 2 March 2026, 10 min, left wrist"
    assert Recording.objects.count() == 1


def test_bad_files_are_told_what_to_fix_and_hold_up_nothing(ana, folder):
    (folder / "1 empty.csv").write_bytes(b"")
    (folder / "2 list.txt").write_bytes(b"milk, eggs")
    (folder / "3 good.csv").write_bytes(csv_file())
    for number, path in enumerate(sorted(folder.iterdir())):
        os.utime(path, (1_700_000_000 + number,) * 2)
    first, second, third = said(ana, settled(folder))
    assert first.startswith("1 empty.csv: The file is empty")
    assert second.startswith("2 list.txt: ")
    assert third == "3 good.csv: run of 2 March 2026, 10 min, left wrist"


def test_a_reader_that_breaks_holds_up_nothing(ana, folder, monkeypatch):
    (folder / "a.csv").write_bytes(csv_file(minutes=10))
    (folder / "b.csv").write_bytes(csv_file(minutes=20))
    os.utime(folder / "a.csv", (1_700_000_000,) * 2)
    whole = watch_folder.read_recording

    def breaks_once(key):
        monkeypatch.setattr(watch_folder, "read_recording", whole)
        raise ZeroDivisionError

    monkeypatch.setattr(watch_folder, "read_recording", breaks_once)
    assert said(ana, Watch(folder), looks=2) == [
        "a.csv: could not be imported (ZeroDivisionError). The others go on",
        "b.csv: run of 2 March 2026, 20 min, left wrist",
    ]


def test_a_database_that_is_busy_is_asked_again_and_complained_of_once(ana, folder, monkeypatch):
    (folder / "a.csv").write_bytes(csv_file())
    watch, whole = Watch(folder), watch_folder.receive_all

    def busy(*args, **kwargs):
        raise OperationalError("database is locked")

    monkeypatch.setattr(watch_folder, "receive_all", busy)
    assert said(ana, watch, looks=3) == ["a.csv: not taken yet (database is locked). It is tried again"]
    monkeypatch.setattr(watch_folder, "receive_all", whole)
    assert said(ana, watch) == ["a.csv: run of 2 March 2026, 10 min, left wrist"]


def test_what_was_deleted_does_not_come_back_from_the_folder(ana, folder):
    (folder / "a.csv").write_bytes(csv_file())
    said(ana, Watch(folder), looks=2)
    delete_workout(Workout.objects.get())
    assert said(ana, settled(folder)) == [
        "a.csv: deleted lately, so left out. Add it on the log page to have it anew"
    ]
    assert not Workout.objects.exists()


def test_an_archive_is_told_file_by_file(ana, folder):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("one.csv", csv_file(minutes=10))
        archive.writestr("two.csv", b"nothing of use")
    (folder / "all.zip").write_bytes(packed.getvalue())
    first, second = said(ana, settled(folder))
    assert first == "all.zip, one.csv: run of 2 March 2026, 10 min, left wrist"
    assert second.startswith("all.zip, two.csv: ")


def settled(folder):
    """A watch that has seen the folder once."""
    watch = Watch(folder)
    watch.settled()
    return watch


def test_subfolders_are_looked_into_only_if_asked(ana, folder):
    (folder / "2026").mkdir()
    (folder / "2026" / "a.csv").write_bytes(csv_file())
    assert said(ana, settled(folder)) == []
    watch = Watch(folder, subfolders=True)
    assert said(ana, watch, looks=2) == ["2026/a.csv: run of 2 March 2026, 10 min, left wrist"]


def test_names_that_begin_with_a_dot_are_left_out(ana, folder):
    (folder / ".a.csv.part").write_bytes(csv_file())
    (folder / ".hidden").mkdir()
    (folder / ".hidden" / "b.csv").write_bytes(csv_file())
    watch = Watch(folder, subfolders=True)
    assert said(ana, watch, looks=2) == []


def test_a_file_without_a_known_sensor_says_where_to_tell_it(folder):
    (folder / "a.csv").write_bytes(csv_file())
    assert said(athlete(), settled(folder)) == [
        "a.csv: run of 2 March 2026, 10 min, say on the log page which sensor this was"
    ]


def test_a_worker_is_woken_as_by_an_upload(ana, folder, monkeypatch, django_capture_on_commit_callbacks):
    tasks = []
    monkeypatch.setattr(import_files, "wake", lambda *task: tasks.append(task))
    (folder / "a.csv").write_bytes(csv_file())
    with django_capture_on_commit_callbacks(execute=True):
        said(ana, settled(folder))
    assert tasks == [(import_files.READ_TASK,)]


def test_asked_to_stop_it_leaves_the_rest(ana, folder):
    for number in range(3):
        (folder / f"{number}.csv").write_bytes(csv_file(minutes=10 + number))
    watch = settled(folder)
    assert list(look(ana, watch, Recording.objects.exists))
    assert Recording.objects.count() == 1
    assert len(said(ana, watch)) == 2
