"""A stop asked for in the ordinary way breaks nothing off, or gives it back; and what is told of it."""

import json
import os
import signal
import sqlite3
import subprocess
import sys
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from tests.faults.installation import PROJECT, Installation
from tests.receive_files import workout_file
from tests.waiting import LONG, eventually

pytestmark = pytest.mark.faults

RECEIVE = """
import sys, django
django.setup()
from django.contrib.auth import get_user_model
from trainlog.services.athletes import log_of
from trainlog.services.import_files import receive
from trainlog.telling import context
context.request_id.set("the-upload-itself")
user, _ = get_user_model().objects.get_or_create(username="someone")
receive(log_of(user), "slow.csv", sys.stdin.buffer.read())
"""


class Held:
    """An installation whose reading and answering wait until they are let go."""

    def __init__(self, folder):
        self.installation = Installation(folder / "var")
        self.folder = folder / "hold"
        self.folder.mkdir()
        self.installation.environment |= {
            "TESTS_HOLD": str(self.folder),
            "PYTHONPATH": str(Path(__file__).parent / "hold"),
            "TRAINLOG_LONGEST_TASK_SECONDS": "30",
            "TRAINLOG_SWEEP_SECONDS": "2",
            "TRAINLOG_LOG_LEVEL": "INFO",
            "TRAINLOG_LOG_FORMAT": "json",
        }

    def receive(self):
        """Take in one file that is read slowly."""
        subprocess.run(
            [sys.executable, "-c", RECEIVE],
            env=self.installation.environment
            | {"DJANGO_SETTINGS_MODULE": "trainlog.settings", "PYTHONPATH": str(PROJECT)},
            input=workout_file(0).replace(b"time,heart_rate", b"time,heart_rate,slowly"),
            timeout=LONG,
            check=True,
        )

    def begun(self, what):
        eventually((self.folder / f"{what}.begun").exists, f"{what} has begun")

    def let_go(self, what):
        (self.folder / f"{what}.go").touch()

    def file(self):
        """State of the file, and how often it was taken up."""
        address = f"file:{self.installation.folder / 'trainlog.sqlite3'}?mode=ro"
        with closing(sqlite3.connect(address, uri=True)) as database:
            return database.execute("SELECT state, attempts FROM trainlog_recording").fetchone()

    def told(self, child, logger):
        """JSON lines of a logger in a child."""
        lines = [line.partition(" | ") for line in self.installation.said().splitlines()]
        found = [json.loads(text) for name, _, text in lines if name.strip() == child and text[:1] == "{"]
        return [line for line in found if line["logger"] == logger]


@pytest.fixture
def held(tmp_path):
    held = Held(tmp_path)
    try:
        held.installation.start()
        yield held
    finally:
        held.installation.end()


def test_a_web_server_that_is_asked_to_end_first_answers_what_it_has_begun(held):
    before = held.installation.pid("web")
    address = f"http://127.0.0.1:{held.installation.port}/ready"
    with ThreadPoolExecutor(1) as other:
        answer = other.submit(lambda: urllib.request.urlopen(address, timeout=LONG).status)
        held.begun("answering")
        os.kill(before, signal.SIGTERM)
        assert not answer.done()
        held.let_go("answering")
        assert answer.result(LONG) == 200
    eventually(lambda: held.installation.pid("web") not in (0, before), "the web server is started again")
    assert "web ended unexpectedly (exit code 0)" in held.installation.said()


def test_a_worker_that_is_asked_to_end_first_finishes_its_task_and_tells_of_it(held):
    before = held.installation.pid("worker")
    held.receive()
    held.begun("reading")
    os.kill(before, signal.SIGTERM)
    assert held.file() == ("received", 1)
    held.let_go("reading")
    eventually(lambda: held.file() == ("read", 1), "the file is read, at the first attempt")
    eventually(lambda: held.installation.pid("worker") not in (0, before), "the worker is started again")
    assert "worker ended unexpectedly (exit code 0)" in held.installation.said()
    line = held.told("worker", "trainlog.tasks")[0]
    assert (line["task"], line["outcome"]) == ("trainlog.tasks.read_next", "done")
    assert line["request_id"] == "the-upload-itself"
    assert line["task_id"]
    assert "slow.csv" not in held.installation.said()


def test_a_task_that_outlasts_a_stop_is_given_back_and_done_after_the_next_start(held):
    held.receive()
    held.begun("reading")
    held.installation.process.send_signal(signal.SIGTERM)
    assert held.installation.process.wait(LONG) == 0
    assert held.installation.processes() == []
    assert held.file() == ("received", 1)
    held.let_go("reading")
    held.installation.environment["TRAINLOG_LONGEST_TASK_SECONDS"] = "5"
    with closing(sqlite3.connect(held.installation.folder / "trainlog.sqlite3")) as database:
        # Its claim is that of a worker that has gone; nobody has to wait for it here.
        database.execute("UPDATE trainlog_recording SET claimed_until = '2020-01-01'")
        database.commit()
    held.installation.start()
    eventually(lambda: held.file() == ("read", 2), "the file is read, at the second attempt")


def test_counts_of_web_and_workers_are_told_together(held):
    held.let_go("reading")
    held.receive()
    eventually(lambda: held.file() == ("read", 1), "the file is read")

    def figures():
        address = f"http://127.0.0.1:{held.installation.port}/metrics"
        with urllib.request.urlopen(address, timeout=LONG) as answer:
            return answer.read().decode()

    done = 'trainlog_tasks_total{outcome="done",task="trainlog.tasks.read_next"}'
    eventually(lambda: done in figures(), "the worker's task is counted")
    eventually(lambda: 'trainlog_requests_total{method="GET",route="metrics",status="2xx"}' in figures(), "")
    assert 'task="trainlog.tasks.sweep"' in eventually(
        lambda: figures() if "trainlog.tasks.sweep" in figures() else "", "the sweep is counted"
    )
    assert 'trainlog_work_waiting{work="files"} 0.0' in figures()
