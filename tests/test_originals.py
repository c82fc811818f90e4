import os
from pathlib import Path

import pytest

from trainlog import originals, secret_key

CONTENT = b"time,bpm\n"


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path
    return tmp_path


@pytest.fixture
def events(monkeypatch):
    """What is done to the disk, in order: the kind of thing synced, and renames."""
    seen: list[str] = []
    sync, rename = os.fsync, Path.rename

    def watched_sync(handle):
        target = Path(os.readlink(f"/proc/self/fd/{handle}"))
        if target.is_dir():
            seen.append(f"sync folder {target.name}")
        else:
            seen.append(f"sync {target.stat().st_size} bytes")
        sync(handle)

    def watched_rename(self, target):
        seen.append("rename")
        return rename(self, target)

    monkeypatch.setattr(os, "fsync", watched_sync)
    monkeypatch.setattr(Path, "rename", watched_rename)
    return seen


def files_under(folder):
    return [path for path in folder.rglob("*") if path.is_file()]


def test_bytes_come_back_as_they_were():
    assert originals.read(1, originals.keep(1, CONTENT)) == CONTENT


def test_bytes_are_on_disk_before_they_get_their_name(events):
    sha256 = originals.keep(1, CONTENT)
    assert events[-3:] == [f"sync {len(CONTENT)} bytes", "rename", f"sync folder {sha256[:2]}"]


def test_new_folders_are_entered_durably_in_the_folder_above(events, data_folder):
    originals.keep(1, CONTENT)
    assert events[:3] == [f"sync folder {data_folder.name}", "sync folder originals", "sync folder 1"]


def test_only_the_owner_of_the_machine_account_can_look_into_the_folders(data_folder):
    originals.keep(1, CONTENT)
    folders = [path for path in data_folder.rglob("*") if path.is_dir()]
    assert [path.stat().st_mode & 0o077 for path in folders] == [0, 0, 0]


def test_keeping_the_same_bytes_again_writes_nothing(events, data_folder):
    first = originals.keep(1, CONTENT)
    events.clear()
    assert originals.keep(1, CONTENT) == first
    assert events == []
    assert len(files_under(data_folder)) == 1


def test_a_write_that_breaks_off_leaves_nothing_behind(monkeypatch, data_folder):
    def full_disk(handle):
        raise OSError("No space left on device")

    originals.keep(1, b"something else, so that the folders are there")
    before = files_under(data_folder)
    monkeypatch.setattr(os, "fsync", full_disk)
    with pytest.raises(OSError, match="No space"):
        originals.keep(1, CONTENT)
    assert files_under(data_folder) == before


def test_damage_on_disk_is_noticed_when_the_bytes_are_read():
    sha256 = originals.keep(1, CONTENT)
    originals.path_of(1, sha256).write_bytes(CONTENT[:-1])
    with pytest.raises(ValueError, match="damaged on disk"):
        originals.read(1, sha256)


def test_keeping_the_bytes_again_repairs_damage_on_disk():
    sha256 = originals.keep(1, CONTENT)
    originals.path_of(1, sha256).write_bytes(CONTENT[:-1])
    originals.keep(1, CONTENT)
    assert originals.read(1, sha256) == CONTENT


def test_bytes_that_are_gone_are_missed():
    with pytest.raises(FileNotFoundError):
        originals.read(1, originals.digest(CONTENT))


def test_two_athletes_keep_the_same_bytes_apart():
    sha256 = originals.keep(1, CONTENT)
    originals.keep(2, CONTENT)
    originals.forget(1, sha256)
    assert originals.read(2, sha256) == CONTENT


def test_forgetting_twice_is_no_error():
    sha256 = originals.keep(1, CONTENT)
    originals.forget(1, sha256)
    originals.forget(1, sha256)
    with pytest.raises(FileNotFoundError):
        originals.read(1, sha256)


def test_the_data_folder_is_private_whoever_makes_it_first(tmp_path):
    secret_key.make(tmp_path / "new")
    assert (tmp_path / "new").stat().st_mode & 0o077 == 0
