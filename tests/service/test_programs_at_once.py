"""Several programs at once on PostgreSQL: none undoes what another did, and nothing is done twice."""

import os
import socket
import subprocess
import sys
import uuid
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest

from tests.waiting import LONG, eventually
from trainlog.serve import programs

pytestmark = pytest.mark.service

PROJECT = Path(__file__).resolve().parents[2]
AT_ONCE = 6

MAKE_TOKEN = """
import django
django.setup()
from django.contrib.auth import get_user_model
from trainlog.services.athletes import open_log
from trainlog.services.tokens import make_token
owner = open_log(get_user_model().objects.create_user("ana"), time_zone="UTC", seed=1)
print(make_token(owner, "programs", "write", 30).secret)
"""


@pytest.fixture
def program(new_database, tmp_path):
    """A client of a running site, for several threads."""
    outside = {name: value for name, value in os.environ.items() if not name.startswith("TRAINLOG_")}
    outside.pop("DJANGO_SETTINGS_MODULE", None)
    told = {
        "TRAINLOG_DATABASE_URL": new_database,
        "TRAINLOG_BROKER_URL": "redis://127.0.0.1:1/0",
        "TRAINLOG_SECRET_KEY": "only-for-tests",
    }
    environment = programs.environment(outside | told, PROJECT, tmp_path)

    def run(*arguments):
        done = subprocess.run(
            [sys.executable, *arguments],
            cwd=PROJECT,
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        )
        return done.stdout.strip()

    run("manage.py", "migrate", "--verbosity", "0")
    secret = run("-c", MAKE_TOKEN)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"127.0.0.1:{free.getsockname()[1]}"
    site = subprocess.Popen(programs.web(address).command, cwd=PROJECT, env=environment)
    client = httpx.Client(
        base_url=f"http://{address}/api/v1/", headers={"Authorization": f"Bearer {secret}"}, timeout=LONG
    )

    def answers():
        try:
            return client.get("settings").status_code == 200
        except httpx.TransportError:
            return False

    try:
        eventually(answers, "the site answers")
        yield client
    finally:
        client.close()
        site.terminate()
        site.wait(LONG)


def at_once(do):
    with ThreadPoolExecutor(AT_ONCE) as threads:
        return list(threads.map(do, range(AT_ONCE)))


def test_words_that_programs_add_to_a_note_at_once_are_all_in_it(program):
    typed = {"start": "2026-03-02T06:30:00Z", "minutes": 40, "activity": "run"}
    address = f"workouts/{program.post('workouts', json=typed).json()['id']}"

    def add(number):
        refused = 0
        while True:
            shown = program.get(address)
            note = f"{shown.json()['note']} word{number}".strip()
            headers = {"If-Match": shown.headers["ETag"]}
            changed = program.patch(address, json={"note": note}, headers=headers)
            if changed.status_code != 412:
                assert changed.status_code == 200, changed.text
                return refused
            refused += 1

    refused = at_once(add)
    words = program.get(address).json()["note"].split()
    assert sorted(words) == [f"word{number}" for number in range(AT_ONCE)]
    assert sum(refused) > 0


def test_a_request_sent_several_times_at_once_is_done_once(program):
    key = str(uuid.uuid4())
    planned = {"day": "2026-03-05", "activity": "run"}

    def ask(_number):
        return program.post("planned-sessions", json=planned, headers={"Idempotency-Key": key})

    answers = at_once(ask)
    assert {answer.status_code for answer in answers} <= {201, 409}
    made = {answer.json()["id"] for answer in answers if answer.status_code == 201}
    listed = program.get("planned-sessions", params={"from": "2026-03-05", "to": "2026-03-05"}).json()
    assert [row["id"] for row in listed] == list(made)
