"""Which request and which task the running code belongs to."""

from __future__ import annotations

import logging
import re
import uuid
from contextvars import ContextVar

request_id: ContextVar[str] = ContextVar("request_id", default="")
"""Of the request that is answered, or of the one that woke the task that runs; else empty."""

task_id: ContextVar[str] = ContextVar("task_id", default="")
"""Of the task that runs; else empty."""

_VALID = re.compile(r"[A-Za-z0-9-]{8,64}")


def new_id() -> str:
    """Make an id that no other request has."""
    return uuid.uuid4().hex


def valid_or_new(offered: str | None) -> str:
    """Id that a proxy gave, if it looks like one; anything else could bring lines or words of its own.

    Parameters
    ----------
    offered : str or None
        What came with the request.
    """
    return offered if offered and _VALID.fullmatch(offered) else new_id()


class Ids(logging.Filter):
    """Gives every line the ids of its request and of its task."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Add ``request_id`` and ``task_id``, and ``ids``, which has both in brackets where there are any."""
        ids = {"request": request_id.get(), "task": task_id.get()}
        record.request_id, record.task_id = ids.values()
        told = " ".join(f"{name} {value}" for name, value in ids.items() if value)
        record.ids = f" [{told}]" if told else ""
        return True
