"""The log on PostgreSQL and Redis, with real workers: what docker-compose.yml sets up, without containers."""

import os
import subprocess
import sys
from pathlib import Path

import psycopg
import pytest
import redis

from tests.waiting import LONG, eventually
from trainlog.serve import programs

pytestmark = pytest.mark.service

PROJECT = Path(__file__).resolve().parents[2]
POSTGRES = os.environ.get("TEST_POSTGRES", "postgres://postgres@127.0.0.1:5432")
REDIS = os.environ.get("TEST_REDIS", "redis://127.0.0.1:6379/15")
NOBODY = "redis://127.0.0.1:1/0"


class Parts:
    """An installation's parts, each a process, on one fresh database."""

    def __init__(self, folder, database):
        outside = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith("TRAINLOG_") and name != "DJANGO_SETTINGS_MODULE"
        }
        settings = {
            "TRAINLOG_DATABASE_URL": f"{POSTGRES}/{database}",
            "TRAINLOG_BROKER_URL": REDIS,
            "TRAINLOG_SECRET_KEY": "only-for-tests",
        }
        self.environment = programs.environment(outside | settings, PROJECT, folder)
        self.database = f"{POSTGRES}/{database}"
        self.folder = folder
        self.processes = []

    def run(self, *arguments, **changes):
        done = subprocess.run(
            [sys.executable, *arguments],
            cwd=PROJECT,
            env=self.environment | changes,
            capture_output=True,
            text=True,
            timeout=LONG,
            check=False,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def start(self, program):
        with (self.folder / f"{program.name}.log").open("w") as log:
            self.processes.append(
                subprocess.Popen(program.command, env=self.environment, stdout=log, stderr=subprocess.STDOUT)
            )

    def query(self, question):
        with psycopg.connect(self.database, autocommit=True) as connection:
            cursor = connection.execute(question)
            return cursor.fetchall() if cursor.description else []

    def states(self, user):
        """How many of a user's files are in which state."""
        return dict(
            self.query(
                "SELECT state, count(*) FROM trainlog_recording "
                "JOIN trainlog_athlete athlete ON athlete.id = owner_id "
                f"JOIN auth_user ON auth_user.id = athlete.user_id WHERE username = '{user}' GROUP BY state"
            )
        )


@pytest.fixture(scope="module")
def parts(tmp_path_factory):
    name = f"trainlog_test_{os.getpid()}"
    with psycopg.connect(f"{POSTGRES}/postgres", autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name}")
    queue = redis.Redis.from_url(REDIS)
    queue.flushdb()
    parts = Parts(tmp_path_factory.mktemp("data"), name)
    try:
        parts.run("manage.py", "migrate", "--verbosity", "0")
        for worker in (programs.reader(), programs.learner(), programs.reporter()):
            parts.start(worker)
        parts.start(programs.sweeper())
        yield parts
    finally:
        for process in parts.processes:
            process.terminate()
        for process in parts.processes:
            process.wait(LONG)
        queue.flushdb()
        with psycopg.connect(f"{POSTGRES}/postgres", autocommit=True) as server:
            server.execute(f"DROP DATABASE {name} WITH (FORCE)")


def test_migrations_make_the_tables_that_the_models_describe(parts):
    parts.run("manage.py", "makemigrations", "--check", "--dry-run")


def test_a_received_file_is_read_by_a_worker(parts):
    parts.run("tests/receive_files.py", "0", "3")
    eventually(lambda: parts.states("someone") == {"read": 3}, "the files are read")


def test_a_file_whose_wake_up_was_lost_is_found_by_the_sweep(parts):
    parts.run("tests/receive_files.py", "3", "1", TRAINLOG_BROKER_URL=NOBODY)
    assert parts.states("someone") == {"read": 3, "received": 1}
    parts.query(
        "UPDATE trainlog_recording SET received_at = now() - interval '1 minute' WHERE state = 'received'"
    )
    parts.run("-m", "celery", "--app", "trainlog.celery", "call", "trainlog.tasks.sweep")
    eventually(lambda: parts.states("someone") == {"read": 4}, "the file is read")


def test_every_load_of_a_log_is_estimated_without_anyone_asking(parts):
    parts.run("manage.py", "load_demo", "--password", "a long password", "--weeks", "2")
    parts_of_demo = parts.query(
        "SELECT count(*) FROM trainlog_part JOIN trainlog_athlete athlete ON athlete.id = owner_id "
        "JOIN auth_user ON auth_user.id = athlete.user_id WHERE username = 'demo'"
    )
    estimated = (
        "SELECT count(*) FROM trainlog_loadestimate estimate "
        "JOIN trainlog_part part ON part.id = estimate.part_id "
        "AND part.input_revision = estimate.input_revision AND estimate.measure = 'trimp' "
        "JOIN trainlog_athlete athlete ON athlete.id = estimate.owner_id "
        "AND athlete.current_source = estimate.source "
        "JOIN auth_user ON auth_user.id = athlete.user_id WHERE username = 'demo'"
    )
    assert parts_of_demo[0][0] > 5
    eventually(lambda: parts.query(estimated) == parts_of_demo, "every load is estimated")


@pytest.mark.parametrize("name", ["read", "learn", "report", "sweep"])
def test_each_worker_answers_the_question_that_its_health_check_asks(parts, name):
    host = parts.run("-c", "from celery.utils.nodenames import gethostname; print(gethostname())").strip()
    question = ("inspect", "ping", "--timeout", "10", "--destination", f"{name}@{host}")
    assert "pong" in parts.run("-m", "celery", "--app", "trainlog.celery", *question)
