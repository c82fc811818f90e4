"""A real process that watches a folder, and is asked to end."""

import os
import signal
import sqlite3
import subprocess
from contextlib import closing

import pytest

from tests.builders import csv_file
from tests.faults.installation import PROJECT, Installation
from tests.waiting import eventually

pytestmark = pytest.mark.faults


@pytest.fixture
def installation(tmp_path):
    made = Installation(tmp_path / "data")
    made.make_key()
    made.environment["DJANGO_SUPERUSER_PASSWORD"] = "a long password"
    for arguments in (
        ("migrate", "--verbosity", "0"),
        ("createsuperuser", "--no-input", "--username", "ana", "--email", ""),
    ):
        subprocess.run(made.command(*arguments), env=made.environment, cwd=PROJECT, check=True)
    return made


@pytest.mark.parametrize("asked", [signal.SIGTERM, signal.SIGINT])
def test_files_are_imported_as_they_come_and_it_ends_cleanly_when_asked(installation, tmp_path, asked):
    folder, log = tmp_path / "files", tmp_path / "said"
    folder.mkdir()
    with log.open("w") as out:
        process = subprocess.Popen(
            installation.command("watch_folder", str(folder), "--user", "ana", "--every", "0.2"),
            env=installation.environment,
            cwd=PROJECT,
            stdout=out,
            stderr=subprocess.STDOUT,
        )
    try:
        eventually(lambda: "Watching" in log.read_text(), "it watches")
        (folder / "bad.csv").write_bytes(b"milk, eggs")
        eventually(lambda: "bad.csv: " in log.read_text(), "the bad file is told")
        content = csv_file()
        with (folder / "good.csv").open("wb") as file:
            for begin in range(0, len(content), 4000):
                file.write(content[begin : begin + 4000])
                file.flush()
                os.fsync(file.fileno())
        eventually(lambda: "good.csv: run of 2 March 2026" in log.read_text(), "the good file is told")
        process.send_signal(asked)
        assert process.wait(timeout=30) == 0
        assert log.read_text().rstrip().endswith("Stopped.")
    finally:
        process.kill()
        process.wait()
    with closing(sqlite3.connect(installation.folder / "trainlog.sqlite3")) as database:
        states = database.execute("select file_name, state from trainlog_recording order by 1").fetchall()
    assert states == [("bad.csv", "refused"), ("good.csv", "read")]
