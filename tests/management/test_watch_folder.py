"""The command that watches a folder."""

import io

import pytest
from django.core.management import CommandError, call_command

from tests.builders import athlete, csv_file, imported
from trainlog.models import Recording

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def one_connection(monkeypatch):
    """A look closes old connections at its end, which on PostgreSQL would end the test's transaction."""
    monkeypatch.setattr("trainlog.services.watch_folder.close_old_connections", lambda: None)


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path / "data"


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "files"
    made.mkdir()
    return made


def watched(folder, **options):
    out = io.StringIO()
    call_command("watch_folder", str(folder), user="ana", once=True, every=0.1, stdout=out, **options)
    return out.getvalue().splitlines()


def test_once_takes_what_is_there_and_ends(folder):
    athlete()
    (folder / "a.csv").write_bytes(csv_file())
    (line,) = watched(folder)
    assert line.startswith("a.csv: run of 2 March 2026, 10 min")
    assert Recording.objects.get().state == "read"


def test_files_that_were_there_before_are_counted_in_one_line(folder):
    owner = athlete()
    for number in range(3):
        content = csv_file(minutes=10 + number)
        (folder / f"{number}.csv").write_bytes(content)
        imported(owner, content)
    (folder / "new.csv").write_bytes(csv_file(minutes=30))
    lines = watched(folder)
    assert len(lines) == 2
    assert lines[-1] == "3 files in the log already."


@pytest.mark.parametrize(
    ("options", "why"),
    [
        ({"user": "nobody"}, "There is no user 'nobody'."),
        ({"every": 0}, "Look every 0.1 to 3600 seconds."),
    ],
)
def test_what_cannot_be_is_refused_in_words(folder, options, why):
    athlete()
    with pytest.raises(CommandError, match=why):
        call_command("watch_folder", str(folder), **({"user": "ana", "once": True} | options))


def test_a_folder_that_is_none_is_refused(tmp_path):
    athlete()
    with pytest.raises(CommandError, match="is no folder"):
        watched(tmp_path / "nowhere")
