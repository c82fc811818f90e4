"""Each task has one line when it ends, with its id and that of the request that woke it."""

from __future__ import annotations

import logging
import time
from contextvars import Token
from typing import Any

from celery import signals

from trainlog.telling import context, slots
from trainlog.telling.timings import count_task

logger = logging.getLogger("trainlog.tasks")

HEADER = "request_id"

_running: dict[str, tuple[float, Token[str], Token[str]]] = {}
"""When each task began, and the ids that were in force before it."""


@signals.setup_logging.connect
def keep_logging(**_: Any) -> None:
    """Leave the log as the settings have it: without a receiver, Celery sets it up in its own way."""


@signals.celeryd_init.connect
def take_role(sender: str, **_: Any) -> None:
    """Go by the worker's name."""
    slots.take_role(sender)


@signals.before_task_publish.connect
def hand_on(headers: dict[str, Any] | None = None, **_: Any) -> None:
    """Give a task the id of the request in which it is sent."""
    if headers is not None and context.request_id.get():
        headers[HEADER] = context.request_id.get()


@signals.task_prerun.connect
def begin(task_id: str, task: Any, **_: Any) -> None:
    """Take the ids, and note when it began."""
    # Where a task is run without a queue, its headers lie apart.
    woken_by = task.request.get(HEADER) or (task.request.headers or {}).get(HEADER) or ""
    tokens = context.task_id.set(task_id), context.request_id.set(woken_by)
    _running[task_id] = (time.perf_counter(), *tokens)


@signals.task_postrun.connect
def end(task_id: str, task: Any, state: str | None = None, **_: Any) -> None:
    """Tell name, milliseconds and outcome, never what it was called with."""
    if task_id not in _running:
        return
    began, own, woken_by = _running.pop(task_id)
    seconds = time.perf_counter() - began
    outcome = "done" if state == "SUCCESS" else (state or "broken off").lower()
    ms = round(1000 * seconds, 1)
    told = {"task": task.name, "outcome": outcome, "ms": ms}
    logger.info("%s %s in %.1f ms", task.name, outcome, ms, extra=told)
    count_task(task.name, outcome, seconds)
    context.request_id.reset(woken_by)
    context.task_id.reset(own)
