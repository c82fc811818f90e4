"""``manage.py import_files``: everything in files and folders, with a line on each."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from tests.builders import MORNING, csv_file
from trainlog.models import Recording
from trainlog.services.delete_workouts import delete_recording

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path / "data"


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "files"
    (made / "2026").mkdir(parents=True)
    (made / "a.csv").write_bytes(csv_file(MORNING))
    (made / "2026" / "b.csv").write_bytes(csv_file(MORNING + timedelta(hours=5)))
    (made / ".hidden.csv").write_bytes(csv_file(MORNING + timedelta(hours=9)))
    return made


def lines_of(*paths, user="ana"):
    said = StringIO()
    call_command("import_files", *map(str, paths), user=user, stdout=said)
    return said.getvalue().splitlines()


def test_files_of_a_folder_and_the_folders_in_it_are_imported_with_a_line_on_each(ana, folder):
    first, second, last = lines_of(folder)
    assert first.startswith("[1/2] 2026/b.csv: run")
    assert second.startswith("[2/2] a.csv: run")
    assert last == "2 new, 0 in the log already, 0 not taken."
    assert Recording.objects.of(ana).filter(state="read").count() == 2


def test_importing_again_changes_nothing_and_says_so(ana, folder):
    lines_of(folder)
    again = lines_of(folder / "a.csv")
    assert "in the log already" in again[0]
    assert again[-1] == "0 new, 1 in the log already, 0 not taken."


def test_a_bad_file_does_not_hold_up_the_others_and_shows_in_the_exit_code(ana, folder):
    (folder / "0.csv").write_bytes(b"no recording")
    (folder / "1.csv").write_bytes(b"")
    with pytest.raises(CommandError, match="2 could not be taken") as refused:
        lines_of(folder)
    assert refused.value.returncode == 2
    assert Recording.objects.of(ana).filter(state="read").count() == 2


def test_a_file_that_was_deleted_stays_deleted_and_is_said_to_be_left_out(ana, folder):
    lines_of(folder / "a.csv")
    delete_recording(Recording.objects.get())
    with pytest.raises(CommandError, match="1 could not be taken"):
        lines_of(folder / "a.csv")
    assert not Recording.objects.exists()


@pytest.mark.parametrize(("user", "path"), [("ben", "a.csv"), ("ana", "nowhere")])
def test_without_a_log_or_a_file_nothing_is_tried(ana, folder, user, path):
    with pytest.raises(CommandError) as refused:
        lines_of(folder / "2026", folder / path, user=user)
    assert refused.value.returncode == 1
    assert not Recording.objects.exists()
