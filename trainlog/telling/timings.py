"""Counts and times of requests and tasks, by name alone."""

from __future__ import annotations

from prometheus_client import CollectorRegistry, Counter, Histogram

from trainlog.telling import slots

OWN = CollectorRegistry()

METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})

REQUESTS = Counter(
    "trainlog_requests",
    "Requests by route, method and kind of answer.",
    ("route", "method", "status"),
    registry=OWN,
)
REQUEST_SECONDS = Histogram(
    "trainlog_request_seconds",
    "Seconds from a request to its answer.",
    ("route",),
    buckets=(0.025, 0.05, 0.1, 0.15, 0.25, 0.5, 1, 2.5, 10),
    registry=OWN,
)
TASKS = Counter("trainlog_tasks", "Tasks by name and outcome.", ("task", "outcome"), registry=OWN)
TASK_SECONDS = Histogram(
    "trainlog_task_seconds",
    "Seconds that a task took.",
    ("task",),
    buckets=(0.05, 0.1, 0.25, 0.5, 1, 2.5, 10, 30, 60, 300),
    registry=OWN,
)


def count_request(route: str, method: str, status: int, seconds: float) -> None:
    """Count a request that was answered.

    Parameters
    ----------
    route : str
        Name of its page or operation.
    method, status
        As in HTTP; other methods are counted as one, and a status by its hundred.
    seconds : float
    """
    if slots.may_count():
        kind = method if method in METHODS else "other"
        REQUESTS.labels(route, kind, f"{status // 100}xx").inc()
        REQUEST_SECONDS.labels(route).observe(seconds)


def count_task(task: str, outcome: str, seconds: float) -> None:
    """Count a task that ended.

    Parameters
    ----------
    task, outcome : str
        Its name; how it ended.
    seconds : float
    """
    if slots.may_count():
        TASKS.labels(task, outcome).inc()
        TASK_SECONDS.labels(task).observe(seconds)
