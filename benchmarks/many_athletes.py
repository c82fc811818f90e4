"""Time to answer twenty people at once, in an installation of 200 athletes with 500 workouts each.

On PostgreSQL, in a database of its own, behind the web server as it is served. One log is simulated and
learned from, so that every page has what a real one has, and copied inside the database; each person has a
log of their own and asks for one address after the other:

- without a pause, which keeps both cores busy and gives the most that can be answered a second: beside it, in
  the same run, an empty view of the same server asked for by the same signed-in people;
- with a pause for reading, exponential with a mean of ``PAUSE`` seconds, which is twenty people at work.

Whoever asks runs on the same two cores.

.venv/bin/python -m benchmarks.many_athletes
"""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta

import numpy as np

from benchmarks.own_log import settings_in
from benchmarks.own_postgres import NoPostgres, own_postgres
from benchmarks.web_server import web_server

ATHLETES, WORKOUTS, PEOPLE = 200, 500, 20
SECONDS, SECONDS_WITH_PAUSES = 20.0, 60.0
"""How long each way of asking goes on, after WARM seconds that do not count."""

WARM = 3.0
PAUSE = 3.0
WANTED = 0.15
"""Seconds for 95 of 100 answers."""

ADDRESS = "127.0.0.1:8766"
EMPTY = {"empty view": "/empty"}
PAGES = {
    "log": "/",
    "week": "/week/{day}",
    "workout": "/workouts/{workout}",
    "workout's chart": "/workouts/{workout}/chart.json",
}
API = {
    "API: workouts": "/api/v1/workouts",
    "API: week": "/api/v1/weeks/{day}",
    "API: workout": "/api/v1/workouts/{workout}",
}

Times = dict[str, list[float]]


class Person(threading.Thread):
    """Somebody signed in who asks for one address after the other until the time is over."""

    def __init__(self, session: str, rows: Sequence[Mapping[str, object]], seed: int) -> None:
        super().__init__(daemon=True)
        self.session, self.rows, self.chance = session, rows, random.Random(seed)
        self.times: Times = defaultdict(list)

    def ask(self, addresses: Mapping[str, str], *, pause: float) -> None:
        """Set out to ask for these addresses, in turn."""
        self.addresses, self.pause = addresses, pause
        self.counts_from = time.monotonic() + WARM
        self.ends = self.counts_from + (SECONDS_WITH_PAUSES if pause else SECONDS)

    def run(self) -> None:
        """Ask until the time is over."""
        if self.pause:
            time.sleep(self.chance.uniform(0, self.pause))
        while True:
            row = self.chance.choice(self.rows)
            for name, address in self.addresses.items():
                begun = time.monotonic()
                if begun >= self.ends:
                    return
                self._get(address.format(**row))
                if begun >= self.counts_from:
                    self.times[name].append(time.monotonic() - begun)
                if self.pause:
                    time.sleep(self.chance.expovariate(1 / self.pause))

    def _get(self, path: str) -> None:
        headers = {"Cookie": f"sessionid={self.session}", "Accept-Encoding": "gzip"}
        request = urllib.request.Request(f"http://{ADDRESS}{path}", headers=headers)
        with urllib.request.urlopen(request, timeout=60) as answer:
            answer.read()
            if answer.url != request.full_url:
                raise SystemExit(f"{path} led to {answer.url}")


def fill() -> None:
    """Make the logs, and print sessions of some owners with rows of their logs as JSON."""
    import django  # noqa: PLC0415

    django.setup()
    from django.core.management import call_command  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415

    from accuracy.services.learn import learn  # noqa: PLC0415
    from benchmarks.copied_logs import copy_log  # noqa: PLC0415
    from benchmarks.long_log import open_log_of  # noqa: PLC0415
    from trainlog.models import Athlete, Workout  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    call_command("collectstatic", verbosity=0, interactive=False)
    first = datetime.now(UTC).replace(hour=0, minute=1, second=0, microsecond=0) - timedelta(days=WORKOUTS)
    athlete = open_log_of(WORKOUTS, "ana", first)
    while not learn(athlete, seconds=600):
        pass
    copy_log(athlete, ATHLETES - 1)
    people = []
    for owner in random.Random(1).sample(list(Athlete.objects.select_related("user")), PEOPLE):
        client = Client()
        client.force_login(owner.user)
        rows = Workout.objects.of(owner).values_list("pk", "day")
        people.append(
            {
                "session": client.cookies["sessionid"].value,
                "rows": [{"workout": pk, "day": f"{day}"} for pk, day in rows],
            }
        )
    print(json.dumps(people))


def asked_by(people: Sequence[Mapping], addresses: Mapping[str, str], *, pause: float) -> Times:
    """Seconds of each answer by the address's name."""
    askers = [Person(one["session"], one["rows"], number) for number, one in enumerate(people)]
    for asker in askers:
        asker.ask(addresses, pause=pause)
    for asker in askers:
        asker.start()
    for asker in askers:
        asker.join()
    times: Times = defaultdict(list)
    for asker in askers:
        for name, taken in asker.times.items():
            times[name] += taken
    return times


def show(times: Times) -> float:
    """Print what was measured; answers a second, where nobody pauses."""
    for name, taken in times.items():
        middle, late = 1000 * np.percentile(taken, [50, 95])
        print(f"    {name:<18}{len(taken):>7} answers{middle:>8.0f} ms at the median{late:>8.0f} ms at p95")
    return sum(map(len, times.values())) / SECONDS


def measure(people: Sequence[Mapping]) -> bool:
    """Print the answers' times; whether all that is wanted was met."""
    print(f"  {PEOPLE} people without a pause", flush=True)
    most = show(asked_by(people, EMPTY, pause=0))
    print(f"    an empty view: {most:.0f} answers a second", flush=True)
    for kind, addresses in {"pages": PAGES, "API": API}.items():
        rate = show(asked_by(people, addresses, pause=0))
        print(f"    {kind}: {rate:.0f} answers a second, {rate / most:.2f} of the empty view's", flush=True)
    print(f"  {PEOPLE} people who pause for {PAUSE:g} s in the mean", flush=True)
    late: dict[str, float] = {}
    for addresses in (PAGES, API):
        times = asked_by(people, addresses, pause=PAUSE)
        show(times)
        late |= {name: float(np.percentile(taken, 95)) for name, taken in times.items()}
    return all(seconds <= WANTED for seconds in late.values())


def measure_installation() -> None:
    """Fill an installation, serve it and measure."""
    with tempfile.TemporaryDirectory(prefix="trainlog-bench-") as folder, own_postgres() as database:
        environment = os.environ | settings_in(folder) | database
        environment |= {"DJANGO_SETTINGS_MODULE": "benchmarks.served_settings", "OPENBLAS_NUM_THREADS": "1"}
        environment |= {"TRAINLOG_API_READS_A_MINUTE": "0"}
        begun = time.monotonic()
        filled = subprocess.run(
            [sys.executable, "-m", "benchmarks.many_athletes", "--fill"],
            env=environment,
            check=True,
            stdout=subprocess.PIPE,
        )
        people = json.loads(filled.stdout)
        print(f"{ATHLETES} athletes with {WORKOUTS} workouts each, made in {time.monotonic() - begun:.0f} s")
        with web_server(ADDRESS, environment):
            met = measure(people)
        print(f"Wanted: {1000 * WANTED:.0f} ms at p95 for each, with pauses: {'met' if met else 'missed'}.")


def main() -> None:
    """Measure, where there is a PostgreSQL."""
    if "--fill" in sys.argv:
        fill()
        return
    try:
        measure_installation()
    except NoPostgres as none:
        print(f"{none}, so nothing is measured")


if __name__ == "__main__":
    main()
