"""Backup, restore and the move between SQLite and a real PostgreSQL, by the commands that a person types."""

import os
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing
from pathlib import Path

import psycopg
import pytest

from tests.service.conftest import postgres_database
from tests.waiting import LONG
from trainlog.keeping.read_archive import verify

pytestmark = pytest.mark.service

PROJECT = Path(__file__).resolve().parents[2]


class Installation:
    """A data folder and a database; nothing runs in it."""

    def __init__(self, folder, database=None):
        self.folder = folder
        outside = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith("TRAINLOG_") and name != "DJANGO_SETTINGS_MODULE"
        }
        self.environment = outside | {
            "DJANGO_SETTINGS_MODULE": "trainlog.settings",
            "PYTHONPATH": str(PROJECT),
            "TRAINLOG_DATA_FOLDER": str(folder),
            "TRAINLOG_SECRET_KEY": "only-for-tests",
            "TRAINLOG_BROKER_URL": "memory://",
        }
        if database:
            self.environment["TRAINLOG_DATABASE_URL"] = database

    def run(self, *arguments, code=0):
        done = subprocess.run(
            [sys.executable, *arguments],
            cwd=PROJECT,
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=2 * LONG,
            check=False,
        )
        assert done.returncode == code, done.stdout + done.stderr
        return done.stdout + done.stderr

    def manage(self, *arguments, code=0):
        return self.run("manage.py", *arguments, code=code)

    def fill(self):
        self.manage("migrate", "--verbosity", "0")
        for name in ("ana", "ben"):
            self.run("tests/service/fill_log.py", name)

    def originals(self):
        return {
            path.name: path.read_bytes() for path in (self.folder / "originals").rglob("*") if path.is_file()
        }

    def backup(self, file):
        self.manage("backup", str(file))
        return {table.model: (table.rows, table.values_sha256) for table in verify(file).tables}


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    """A log on SQLite with a row of every kind, and what its backup says of each table."""
    installation = Installation(tmp_path_factory.mktemp("filled"))
    installation.fill()
    file = tmp_path_factory.mktemp("backups") / "one.zip"
    return installation, file, installation.backup(file)


@pytest.fixture(scope="module")
def restored(filled, tmp_path_factory):
    """That log, restored from its backup into PostgreSQL, and the address of its database."""
    with postgres_database("restored") as address:
        on_postgres = Installation(tmp_path_factory.mktemp("on_postgres"), address)
        on_postgres.manage("restore", str(filled[1]))
        yield on_postgres, address


def test_a_backup_of_one_database_restores_into_the_other_and_back(filled, restored, tmp_path):
    installation, _, tables = filled
    on_postgres, _ = restored
    assert on_postgres.backup(tmp_path / "two.zip") == tables
    back = Installation(tmp_path / "back")
    back.manage("restore", str(tmp_path / "two.zip"))
    assert back.backup(tmp_path / "three.zip") == tables
    assert on_postgres.originals() == back.originals() == installation.originals()


def test_the_doctor_looks_at_postgres(restored):
    told = restored[0].manage("doctor", code=1)
    for line in (
        "ok       database: postgresql answers",
        "ok       tables: those of this version",
        "ok       durability: every commit is on disk before it is answered; read committed",
        "ok       database's clock: within seconds of this machine's",
    ):
        assert line in told


def test_the_move_takes_every_value_along_and_leaves_the_source(filled, new_database, tmp_path):
    installation, _, tables = filled
    told = installation.manage("move_database", "--to", new_database)
    assert "every value is the same in both databases" in told
    on_postgres = Installation(installation.folder, new_database)
    assert on_postgres.backup(tmp_path / "moved.zip") == tables
    assert installation.backup(tmp_path / "source.zip") == tables
    refused = installation.manage("move_database", "--to", new_database, code=1)
    assert "not empty" in refused
    assert on_postgres.backup(tmp_path / "again.zip") == tables


def test_what_postgres_does_not_take_undoes_the_whole_move(new_database, tmp_path):
    installation = Installation(tmp_path / "odd")
    installation.fill()
    script = (
        "import django; django.setup(); from trainlog.models import Workout; "
        "Workout.objects.update(note='a' + chr(0) + 'b')"
    )
    installation.run("-c", script)
    refused = installation.manage("move_database", "--to", new_database, code=1)
    assert "does not take a row of trainlog.workout" in refused
    with psycopg.connect(new_database) as connection:
        assert connection.execute("SELECT count(*) FROM auth_user").fetchone() == (0,)


def test_the_database_of_something_else_is_refused(filled, new_database):
    with psycopg.connect(new_database) as connection:
        connection.execute("CREATE TABLE notes (words text)")
    assert "something else" in filled[0].manage("move_database", "--to", new_database, code=1)


def test_a_backup_of_postgres_is_of_one_instant_while_others_write(restored, tmp_path):
    """Two tables are always changed together; a backup in which they differ is of two instants."""
    on_postgres, address = restored
    stop = threading.Event()
    rounds = 0

    def write():
        nonlocal rounds
        with psycopg.connect(address, autocommit=True) as connection:
            while not stop.is_set():
                rounds += 1
                with connection.transaction():
                    for table in ("trainlog_workout", "trainlog_checkin", "trainlog_weekplan"):
                        connection.execute(f"UPDATE {table} SET note = %s", [f"round {rounds}"])
                time.sleep(0.001)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        on_postgres.manage("backup", str(tmp_path / "busy.zip"))
    finally:
        stop.set()
        writer.join()
    back = Installation(tmp_path / "busy")
    back.manage("restore", str(tmp_path / "busy.zip"))
    with closing(sqlite3.connect(back.folder / "trainlog.sqlite3")) as connection:
        notes = connection.execute(
            "SELECT note FROM trainlog_workout UNION SELECT note FROM trainlog_checkin "
            "UNION SELECT note FROM trainlog_weekplan"
        ).fetchall()
    assert len(notes) == 1
    assert notes[0][0].startswith("round ")
    assert rounds > int(notes[0][0].split()[1])


def test_a_log_on_postgres_goes_on_after_a_restore_with_keys_of_its_own(restored):
    on_postgres, address = restored
    on_postgres.run("tests/service/fill_log.py", "carla")
    with psycopg.connect(address) as connection:
        assert connection.execute("SELECT count(*) FROM trainlog_athlete").fetchone() == (3,)
