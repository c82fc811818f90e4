"""What the server writes about its work names rows and kinds of fault, and no value of anybody's log.

An exception's message may hold what a person wrote or a file held ("could not convert … to float"), and an
address may hold what they searched for. Where the fault arose is told by its kind and the lines of code.
"""

from __future__ import annotations

import logging
import traceback
from collections.abc import Mapping
from typing import Any


class WithoutValues(logging.Filter):
    """Take values out of a record; belongs on every handler."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Rewrite the record; it is always written."""
        if record.exc_info and record.exc_info[0] is not None:
            record.exc_text = told(record.exc_info)
        record.exc_info = None
        record.args = _plain_arguments(record.args)
        if isinstance(record.msg, BaseException):
            record.msg = kind(record.msg)
        if hasattr(record, "request"):
            # Its own words hold the whole address, with what was searched for.
            method = getattr(record.request, "method", "")
            record.request = f"{method} {getattr(record.request, 'path', '')}".strip()
        if hasattr(record, "data"):
            # A task's arguments, result and fault, beside the message that names the task.
            del record.data
        return True


def kind(error: BaseException) -> str:
    """Kind of an exception, with the system's own words where it is the system that refused.

    Examples
    --------
    >>> kind(ValueError("what somebody wrote"))
    'ValueError'
    """
    name = type(error).__name__
    return f"{name}: {error.strerror}" if isinstance(error, OSError) and error.strerror else name


def told(raised: Any) -> str:
    """Where an exception arose: every line of code on the way, its causes first, and no message."""
    error = raised[1]
    parts: list[str] = []
    seen: set[int] = set()
    while error is not None and id(error) not in seen:
        seen.add(id(error))
        lines = traceback.format_list(traceback.extract_tb(error.__traceback__))
        parts.append("".join(["Traceback (most recent call last):\n", *lines, kind(error)]))
        error = error.__cause__ or (None if error.__suppress_context__ else error.__context__)
    return "\n\nthe cause of\n\n".join(reversed(parts))


def _plain_arguments(arguments: Any) -> Any:
    if isinstance(arguments, Mapping):
        # The queue's client tells of a failed task by its fault's own words.
        told_of = {"exc", "traceback", "args", "kwargs", "return_value"}
        return {
            name: _kind_in_words(value) if name in told_of else _plain(value)
            for name, value in arguments.items()
        }
    if isinstance(arguments, tuple):
        return tuple(_plain(value) for value in arguments)
    return arguments


def _plain(value: object) -> object:
    return kind(value) if isinstance(value, BaseException) else value


def _kind_in_words(value: object) -> str:
    """Kind of what a string or an object describes: ``ValueError('…')`` is a ``ValueError``."""
    if isinstance(value, BaseException):
        return kind(value)
    word = str(value).partition("(")[0]
    return word if word.isidentifier() else "(left out)"
