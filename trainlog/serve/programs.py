"""The programs of an installation, and the order in which they stop: who makes work before who does it."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path

from trainlog.serve.program import Program
from trainlog.serve.queue_server import queue_command

CELERY = (sys.executable, "-m", "celery", "--quiet", "--app", "trainlog.celery")
WORKER_OPTIONS = ("--loglevel", "WARNING", "--without-gossip", "--without-mingle")
WORKER_PROCESSES = 2
WEB_WORKERS, WEB_THREADS = 2, 4
REQUEST_PATIENCE = 25
"""Seconds in which a request that has begun may end after a stop was asked for."""

FIRST_TO_STOP, THEN, NEARLY_LAST, LAST = range(4)


def queue(data_folder: Path, socket: Path) -> Program:
    """Embedded queue server."""
    folder = data_folder / "queue"
    return Program(
        "queue",
        queue_command(folder, socket),
        stage=LAST,
        unsaid=("Memory overcommit",),  # of use to a server with gigabytes; this one holds kilobytes
        remedy=f"If its files are damaged, remove {folder}: what is to be done stands in the database.",
    )


def web(address: str) -> Program:
    """Web server."""
    return Program(
        "web",
        (
            *(sys.executable, "-m", "gunicorn", "trainlog.wsgi"),
            *("--bind", address, "--no-control-socket", "--log-level", "warning"),
            *("--logger-class", "trainlog.serve.web_log.WebLog"),
            *("--worker-class", "gthread", "--workers", str(WEB_WORKERS), "--threads", str(WEB_THREADS)),
            *("--timeout", "60", "--graceful-timeout", str(REQUEST_PATIENCE)),
        ),
        stage=THEN,
        patience=REQUEST_PATIENCE + 3,
    )


def worker() -> Program:
    """Background worker of one machine: reads files, learns, estimates."""
    return _worker("worker", "imports,learning", "work@%h", WORKER_PROCESSES)


def reader() -> Program:
    """Worker that reads files, where learning has workers of its own."""
    return _worker("reader", "imports", "read@%h", WORKER_PROCESSES)


def learner() -> Program:
    """Worker that learns and estimates, and makes demos."""
    return _worker("learner", "learning", "learn@%h", WORKER_PROCESSES)


def reporter() -> Program:
    """Worker that makes reports, one at a time; what a report took of memory is given back after it."""
    return _worker("reporter", "reports", "report@%h", 1, "--max-tasks-per-child", "1")


def _worker(name: str, queues: str, host: str, processes: int, *options: str) -> Program:
    return Program(
        name,
        (
            *(*CELERY, "worker", "--queues", queues, "--hostname", host, *WORKER_OPTIONS),
            *("--pool", "prefork", "--concurrency", str(processes), *options),
        ),
        stage=NEARLY_LAST,
        patience=10,
    )


def sweeper() -> Program:
    """Worker of the sweep's own queue."""
    return Program(
        "sweeper",
        (*CELERY, "worker", "--queues", "sweep", "--hostname", "sweep@%h", *WORKER_OPTIONS, "--pool", "solo"),
        stage=THEN,
    )


def scheduler() -> Program:
    """Clock that asks for a sweep."""
    return Program("scheduler", (*CELERY, "beat", "--loglevel", "WARNING"), stage=FIRST_TO_STOP)


def static_files(manage: Path) -> Program:
    """Collect the static files, once."""
    return Program("static", (sys.executable, str(manage), "collectstatic", "--no-input", "--verbosity", "0"))


def demo() -> Program:
    """Load the demo scenario, once, as the note in the data folder says."""
    return Program(
        "demo", (sys.executable, "-m", "trainlog.serve.demo"), remedy="The next start tries again."
    )


def environment(base: Mapping[str, str], project: Path, data_folder: Path) -> dict[str, str]:
    """Environment of the children.

    Parameters
    ----------
    base : mapping
        Environment to add to.
    project : Path
        Folder that holds the packages.
    data_folder : Path
        Data folder, resolved.
    """
    return {
        # One thread for linear algebra: processes share the cores, and sums come out the same everywhere.
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
        **base,
        "DJANGO_SETTINGS_MODULE": base.get("DJANGO_SETTINGS_MODULE", "trainlog.settings"),
        "PYTHONPATH": os.pathsep.join(filter(None, (str(project), base.get("PYTHONPATH", "")))),
        "PYTHONUNBUFFERED": "1",
        # Seven lines from each worker about running as root; the supervisor says it in one.
        "PYTHONWARNINGS": ",".join(
            filter(None, (base.get("PYTHONWARNINGS", ""), "ignore:::celery.platforms"))
        ),
        "TRAINLOG_DATA_FOLDER": str(data_folder),
    }
