import os
import time
from pathlib import Path

import pytest

from tests.builders import athlete, csv_file, imported
from trainlog import originals
from trainlog.keeping import original_files
from trainlog.keeping.original_files import LEAVING, check_originals, mend
from trainlog.models import Deletion, Recording

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]
CONTENT = b"bytes that no row names"


@pytest.fixture
def owner():
    return athlete()


def orphan(owner, content=CONTENT, *, days=2.0):
    """An original that no row names, of some age."""
    path = originals.path_of(owner.pk, originals.keep(owner.pk, content))
    return aged(path, days)


def aged(path, days):
    then = time.time() - days * 86_400
    os.utime(path, (then, then))
    return path


def test_an_original_that_is_there_and_whole_is_counted(owner):
    imported(owner, csv_file())
    found = check_originals()
    assert (found.whole, found.ok) == (1, True)
    assert [found.orphans, found.temporary, found.unknown] == [[], [], []]


def test_an_original_that_is_gone_is_missing(owner):
    recording = imported(owner, csv_file())
    originals.forget(owner.pk, recording.sha256)
    found = check_originals()
    assert found.missing == [(owner.pk, recording.sha256)]
    assert not found.ok


def test_an_original_with_other_bytes_is_damaged(owner):
    recording = imported(owner, csv_file())
    originals.path_of(owner.pk, recording.sha256).write_bytes(b"rotten")
    found = check_originals()
    assert found.damaged == [(owner.pk, recording.sha256)]
    assert not found.ok


def test_a_file_that_no_row_names_is_an_orphan_and_no_loss(owner):
    path = orphan(owner)
    found = check_originals()
    assert found.orphans == [path]
    assert found.ok


def test_the_same_bytes_of_another_athlete_are_an_orphan_of_their_own(owner):
    imported(owner, csv_file())
    other = athlete("ben")
    path = orphan(other, csv_file())
    assert check_originals().orphans == [path]


def test_what_can_be_put_back_is_no_orphan(owner):
    path = orphan(owner)
    Deletion.objects.create(owner=owner, what="a run", rows=b"", hashes=[path.name])
    assert check_originals().orphans == []


def test_a_file_half_written_is_unfinished_and_one_of_somebody_else_not_ours(owner, data_folder):
    recording = imported(owner, csv_file())
    folder = originals.path_of(owner.pk, recording.sha256).parent
    (folder / "arriving-x1y2").write_bytes(b"half")
    (folder / "notes.txt").write_bytes(b"mine")
    found = check_originals()
    assert found.temporary == [folder / "arriving-x1y2"]
    assert found.unknown == [folder / "notes.txt"]


def test_mending_removes_what_is_older_than_a_day_and_nothing_else(owner):
    recording = imported(owner, csv_file())
    kept = aged(originals.path_of(owner.pk, recording.sha256), 400)
    old, new = orphan(owner), orphan(owner, b"arriving just now", days=0.9)
    old_half = aged(_written(kept.with_name("arriving-old")), 2)
    new_half = _written(kept.with_name("arriving-new"))
    mine = aged(_written(kept.with_name("notes.txt")), 400)
    assert sorted(mend(check_originals())) == sorted([old, old_half])
    assert all(path.exists() for path in (kept, new, new_half, mine))
    assert not old.exists()
    assert not old_half.exists()


def test_a_damaged_original_is_never_removed(owner):
    recording = imported(owner, csv_file())
    path = originals.path_of(owner.pk, recording.sha256)
    path.write_bytes(b"rotten")
    aged(path, 400)
    assert mend(check_originals()) == []
    assert path.exists()


def test_an_orphan_whose_row_came_after_the_check_stays(owner):
    path = orphan(owner, csv_file())
    found = check_originals()
    imported(owner, csv_file())
    aged(path, 2)
    assert mend(found) == []
    assert originals.read(owner.pk, path.name) == csv_file()


def test_an_orphan_that_is_uploaded_again_at_that_moment_stays(owner, monkeypatch):
    """The upload has found its bytes kept, and its row is not written yet."""
    path = orphan(owner)
    found = check_originals()
    rename = Path.rename

    def uploading_first(self, target):
        if self == path:
            originals.keep(owner.pk, CONTENT)
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", uploading_first)
    assert mend(found) == []
    assert originals.read(owner.pk, path.name) == CONTENT


def test_an_upload_that_comes_while_an_orphan_is_removed_writes_it_anew(owner, monkeypatch):
    path = orphan(owner)
    found = check_originals()
    named = original_files.named_originals

    def uploading_meanwhile(alias):
        originals.keep(owner.pk, CONTENT)
        return named(alias)

    monkeypatch.setattr(original_files, "named_originals", uploading_meanwhile)
    mend(found)
    assert originals.read(owner.pk, path.name) == CONTENT
    assert not path.with_name(LEAVING + path.name).exists()


def test_a_file_deleted_while_the_check_runs_is_not_called_missing(owner, monkeypatch):
    recording = imported(owner, csv_file())
    read = originals.read

    def deleting(*arguments):
        Recording.objects.all().delete()
        originals.forget(owner.pk, recording.sha256)
        return read(*arguments)

    monkeypatch.setattr(originals, "read", deleting)
    assert check_originals().ok


def test_a_log_without_any_file_is_well():
    assert check_originals().ok


def _written(path):
    path.write_bytes(b"half")
    return path
