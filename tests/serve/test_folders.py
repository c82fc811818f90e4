import os

import pytest

from trainlog.serve import folders
from trainlog.serve.folders import FolderRefused
from trainlog.serve.holds import end_leftovers, hold, is_held


def test_a_data_folder_has_one_supervisor(tmp_path):
    held = folders.hold_data_folder(tmp_path)
    with pytest.raises(FolderRefused, match="being served already"):
        folders.hold_data_folder(tmp_path)
    os.close(held)
    os.close(folders.hold_data_folder(tmp_path))


def test_the_runtime_folder_is_private(tmp_path):
    os.close(folders.make_private_folder(tmp_path / "ours"))
    assert (tmp_path / "ours").stat().st_mode & 0o777 == 0o700


def test_a_runtime_folder_that_others_may_enter_is_refused(tmp_path):
    (tmp_path / "open").mkdir()
    (tmp_path / "open").chmod(0o755)
    with pytest.raises(FolderRefused, match="open to other accounts"):
        folders.make_private_folder(tmp_path / "open")


def test_a_link_in_place_of_the_runtime_folder_is_refused(tmp_path):
    (tmp_path / "elsewhere").mkdir(mode=0o700)
    (tmp_path / "link").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(FolderRefused, match="belongs to somebody else"):
        folders.make_private_folder(tmp_path / "link")


def test_a_runtime_folder_of_another_account_is_refused(tmp_path, monkeypatch):
    (tmp_path / "theirs").mkdir(mode=0o700)
    owner = os.getuid()
    monkeypatch.setattr(os, "getuid", lambda: owner + 1)
    with pytest.raises(FolderRefused, match="belongs to somebody else"):
        folders.make_private_folder(tmp_path / "theirs")


def test_a_path_too_long_for_a_socket_is_refused_with_a_remedy(tmp_path):
    with pytest.raises(FolderRefused, match="TMPDIR"):
        folders.make_private_folder(tmp_path / ("long" * 30))


def test_counts_begin_at_zero_with_each_start(tmp_path):
    (folders.make_metrics_folder(tmp_path) / "counter_of_an_earlier_start.db").touch()
    folder = folders.make_metrics_folder(tmp_path)
    assert list(folder.iterdir()) == []
    assert folder.stat().st_mode & 0o777 == 0o700


def test_a_file_is_free_again_when_its_holder_closes_it(tmp_path):
    descriptor = hold(tmp_path / "file")
    assert descriptor is not None
    assert is_held(tmp_path / "file")
    os.close(descriptor)
    assert not is_held(tmp_path / "file")


def test_a_note_of_a_process_long_gone_is_cleared_and_nobody_is_ended(tmp_path):
    (tmp_path / "worker.pid").write_text(str(os.getpid()))
    assert end_leftovers(tmp_path) == []
    assert not (tmp_path / "worker.pid").exists()
