"""Backups against real processes: one that writes all the time, a kill, a full disk."""

import resource
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing

import pytest

from tests.faults.installation import PROJECT, Installation
from tests.waiting import eventually
from trainlog.keeping.read_archive import verify

pytestmark = pytest.mark.faults

WRITER = """
import sqlite3, sys, time
database = sqlite3.connect(sys.argv[1], timeout=30, isolation_level=None)
for number in range(10**9):
    database.execute("BEGIN IMMEDIATE")
    database.execute("UPDATE trainlog_athlete SET log_revision = ?", [number])
    database.execute("UPDATE auth_user SET first_name = ?", [str(number)])
    database.execute("COMMIT")
    print(number, flush=True) if number == 0 else time.sleep(0.001)
"""


@pytest.fixture(scope="module")
def installation(tmp_path_factory):
    """A log with thirty files, of which nothing runs."""
    installation = Installation(tmp_path_factory.mktemp("kept") / "data")
    installation.make_key()
    assert installation.manage("migrate", "--verbosity", "0").returncode == 0
    installation.environment["TRAINLOG_BROKER_URL"] = "memory://"
    installation.receive(0, 30)
    return installation


def test_a_backup_is_of_one_instant_while_another_process_writes(installation, tmp_path):
    """The two rows are always changed together."""
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(installation.folder / "trainlog.sqlite3")], stdout=subprocess.PIPE
    )
    try:
        assert writer.stdout.readline() == b"0\n"
        done = installation.manage("backup", str(tmp_path / "one.zip"))
        assert writer.poll() is None
    finally:
        writer.kill()
        writer.wait()
    assert done.returncode == 0, done.stderr
    back = Installation(tmp_path / "back")
    back.make_key()
    assert back.manage("restore", str(tmp_path / "one.zip")).returncode == 0
    written, now = seen(back), seen(installation)
    assert written[0] == written[1]
    assert 0 < written[0] < now[0]
    # What was being written when it was killed may still lie there; it is named, and removed after a day.
    assert "\n30 whole, 0 missing, 0 damaged, 0 that" in "\n" + back.manage("check_originals").stdout


def seen(installation):
    """What the writer wrote last into either row."""
    with closing(sqlite3.connect(installation.folder / "trainlog.sqlite3")) as database:
        revision, name = database.execute(
            "SELECT log_revision, first_name FROM trainlog_athlete JOIN auth_user ON auth_user.id = user_id"
        ).fetchone()
    return revision, int(name)


def test_a_backup_that_is_killed_leaves_no_half_of_it_under_its_name(installation, tmp_path):
    """Killed at several moments of its life, from the start of the program to the end of its work."""
    begun = time.monotonic()
    assert installation.manage("backup", str(tmp_path / "whole.zip")).returncode == 0
    whole = time.monotonic() - begun
    killed = 0
    for share in (0.5, 0.65, 0.75, 0.85, 0.95):
        target = tmp_path / f"{share}.zip"
        process = subprocess.Popen(
            installation.command("backup", str(target)),
            env=installation.environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            process.wait(timeout=whole * share)
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            process.wait()
            killed += 1
        if target.exists():
            assert verify(target).original_count == 30
    assert killed > 0
    again = tmp_path / "again.zip"
    assert installation.manage("backup", str(again)).returncode == 0
    assert verify(again).original_count == 30


@pytest.mark.parametrize("most_bytes", [20_000, 200_000])
def test_a_disk_that_is_full_leaves_no_file_and_says_so(installation, tmp_path, most_bytes):
    """Stands for a full disk: no file of this process may grow beyond so many bytes."""
    target = tmp_path / "backups"
    target.mkdir()
    done = subprocess.run(
        installation.command("backup", str(target)),
        env=installation.environment,
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes)),
    )
    assert done.returncode == 1
    assert "could not be written, and none is there" in done.stderr
    assert list(target.iterdir()) == []


def test_a_restore_that_is_killed_can_be_repeated(installation, tmp_path):
    assert installation.manage("backup", str(tmp_path / "one.zip")).returncode == 0
    back = Installation(tmp_path / "back")
    back.make_key()
    process = subprocess.Popen(
        back.command("restore", str(tmp_path / "one.zip")),
        env=back.environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        cwd=PROJECT,
    )
    eventually(lambda: list(back.folder.glob("originals/*/*/*")), "the first originals are there")
    process.kill()
    process.wait()
    with closing(sqlite3.connect(back.folder / "trainlog.sqlite3")) as database:
        (rows,) = database.execute("SELECT count(*) FROM trainlog_recording").fetchone()
    if rows == 0:
        assert back.manage("restore", str(tmp_path / "one.zip")).returncode == 0
    # What was being written when it was killed may still lie there; it is named, and removed after a day.
    assert "\n30 whole, 0 missing, 0 damaged, 0 that" in "\n" + back.manage("check_originals").stdout
