"""Wake a worker. Nothing depends on it: the sweep finds in the database what is to be done."""

from __future__ import annotations

import logging
import time

from kombu.exceptions import OperationalError

from trainlog.celery import app

logger = logging.getLogger(__name__)

QUIET_AFTER_FAILURE = 10.0
"""Seconds for which nothing more is sent to a queue that could not be reached."""


class _Queue:
    """Whether the queue answered when last asked."""

    down = False
    ask_again_at = 0.0


def wake(task_name: str, *args: object) -> bool:
    """Send a task to the queue; call it after commit.

    A queue that is down is said once in the log and never raises or slows whoever calls.

    Parameters
    ----------
    task_name : str
        Full name, so that services need not know the tasks.
    *args : object
        What the task takes: numbers and strings.

    Returns
    -------
    bool
        Whether the task was sent.
    """
    if _Queue.down and time.monotonic() < _Queue.ask_again_at:
        return False
    try:
        app.send_task(task_name, args=args, retry=False)
    except (OperationalError, OSError) as error:
        if not _Queue.down:
            logger.warning("The queue does not answer (%s); the sweep will find what is to be done.", error)
        _Queue.down = True
        _Queue.ask_again_at = time.monotonic() + QUIET_AFTER_FAILURE
        return False
    _Queue.down = False
    return True
