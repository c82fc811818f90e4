"""Time to show the pages of a long log, and to keep its trend after a change.

Ten years of one workout a day, their estimates made directly, in every measure and by intensity, as learning
writes them; on SQLite in a temporary folder, and on PostgreSQL where one answers (TEST_POSTGRES, by default
postgres://postgres@127.0.0.1:5432).

.venv/bin/python -m benchmarks.trend
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING, Any

import benchmarks.one_thread  # noqa: F401
from benchmarks.own_log import settings_in
from benchmarks.own_postgres import NoPostgres, own_postgres

if TYPE_CHECKING:
    from trainlog.models import Athlete

YEARS = (1, 10)
TIMES = 15
OK = 200
PAGES = (
    ("week page", "/week/{week}"),
    ("trend, 3 months", "/trend?span=3-months"),
    ("trend, 1 year", "/trend?span=1-year"),
    ("trend, whole log", "/trend?span=all"),
    ("years", "/calendar/years"),
    ("calendar month", "/calendar/{month}"),
    ("recovery", "/recovery"),
    ("log", "/"),
)
WANTED = 0.1
"""Seconds at the median for each page, and for that of all years:"""
WANTED_OF_YEARS = 0.15


def seconds_of(action: Callable[[], Any]) -> float:
    """Time that an action takes."""
    begun = time.perf_counter()
    action()
    return time.perf_counter() - begun


def change(athlete: Athlete, share: float) -> float:
    """Seconds to keep the trend after the load of one workout, so far along the log, has changed."""
    from trainlog.load.draws import pack  # noqa: PLC0415
    from trainlog.models import LoadEstimate  # noqa: PLC0415
    from trainlog.services.trend_store import keep_trend  # noqa: PLC0415

    rows = LoadEstimate.objects.of(athlete).order_by("part__start")
    row = rows[int(share * (rows.count() - 1))]
    row.all_draws = pack(1.1 * row.load)
    row.save()
    return seconds_of(lambda: keep_trend(athlete, "fit"))


def show_pages(athlete: Athlete, queries: dict[str, list[int]]) -> None:
    """Print what each page takes, and note its queries."""
    from django.db import connection  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415
    from django.test.utils import CaptureQueriesContext  # noqa: PLC0415

    client = Client(SERVER_NAME="localhost")
    client.force_login(athlete.user)
    for name, address in PAGES:
        last_week = athlete.today() - timedelta(days=7)
        path = address.format(week=last_week, month=f"{last_week:%Y-%m}")
        if client.get(path).status_code != OK:
            raise SystemExit(f"{path} is not shown")
        worked = time.process_time()
        times = sorted(seconds_of(partial(client.get, path)) for _ in range(TIMES))
        worked = (time.process_time() - worked) / TIMES
        with CaptureQueriesContext(connection) as captured:
            answer = client.get(path)
        queries.setdefault(name, []).append(len(captured))
        print(
            f"    {name:<18}{1000 * statistics.median(times):>6.0f} ms at the median, slowest "
            f"{1000 * times[-1]:.0f} ms, processor {1000 * worked:.0f} ms; {len(captured)} queries, "
            f"{len(answer.content) / 1000:.0f} kB"
        )


def measure() -> None:
    """Print what the pages and the keeping take on the database in force."""
    import django  # noqa: PLC0415

    django.setup()
    from django.core.management import call_command  # noqa: PLC0415
    from django.db import connection  # noqa: PLC0415

    from benchmarks.long_history import log_of  # noqa: PLC0415
    from trainlog.services.trend_store import keep_trend  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    call_command("collectstatic", verbosity=0, interactive=False)
    print(f"{connection.vendor}, its statistics gathered after each log is written, as autovacuum does")
    queries: dict[str, list[int]] = {}
    for years in YEARS:
        athlete = log_of(years)
        keep = partial(keep_trend, athlete, "fit")
        whole, nothing = seconds_of(keep), seconds_of(keep)
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
        print(f"  {years} years of one workout a day")
        show_pages(athlete, queries)
        print(f"    the whole trend is kept in {whole:.2f} s; where nothing changed, in {nothing:.2f} s")
        last, middle = change(athlete, 1), change(athlete, 0.5)
        print(f"    after a change of the last workout in {last:.2f} s, of the middle one in {middle:.2f} s")
        sys.stdout.flush()
    for name, (few, many) in queries.items():
        print(f"  {name}: {few} queries with {YEARS[0]} year, {many} with {YEARS[1]}")


def main() -> None:
    """Measure on each database, each in a process of its own since settings are read once."""
    if "--measure" in sys.argv:
        measure()
        return
    folder = tempfile.mkdtemp(prefix="trainlog-bench-")
    settings = settings_in(folder)
    again = [sys.executable, "-m", "benchmarks.trend", "--measure"]
    try:
        subprocess.run(again, env=os.environ | settings, check=True)
        with own_postgres() as there:
            subprocess.run(again, env=os.environ | settings | there, check=True)
    except NoPostgres as none:
        print(f"{none}, so PostgreSQL is left out")
    finally:
        shutil.rmtree(folder)
    print(
        f"Wanted: each page within {1000 * WANTED:.0f} ms at the median, that of all years within "
        f"{1000 * WANTED_OF_YEARS:.0f} ms, with no more queries for ten years than for one."
    )


if __name__ == "__main__":
    main()
