"""How log lines look: plain for people, JSON for programs; neither with an address or a query."""

from __future__ import annotations

import json
import logging
from datetime import UTC, datetime
from typing import Any

from django.conf import settings
from pythonjsonlogger.json import JsonFormatter

FORMATS = ("plain", "json")

TOLD = (
    *("time", "level", "logger", "message", "request_id", "task_id"),
    *("method", "route", "status", "ms", "task", "outcome", "exc_info"),
)
"""What a JSON line may hold. Libraries hang whole requests on their lines; those stay out."""

STATIC, NOWHERE = "(static file)", "(no page)"
"""Routes of requests that no page and no operation answers."""


def route_of(request: Any) -> str:
    """Name of the page or operation that a request asks for, which holds no key and no query."""
    match = getattr(request, "resolver_match", None)
    if match:
        return str(match.view_name or match.route)
    return STATIC if request.path.startswith(settings.STATIC_URL) else NOWHERE


class Unaddressed(logging.Filter):
    """Puts the route's name where a library's line would give a request's address, which holds keys."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Change the arguments of a line that tells of a request."""
        if record.name == "gunicorn.error" and record.msg.startswith("Error handling request"):
            record.msg, record.args = "Error handling request", ()
        request = getattr(record, "request", None)
        path = getattr(request, "path", None)
        if path is not None and isinstance(record.args, tuple):
            record.args = tuple(route_of(request) if value == path else value for value in record.args)
        return True


class Json(JsonFormatter):
    """One JSON object a line."""

    def process_log_record(self, log_data: dict[str, Any]) -> dict[str, Any]:
        """Keep what may be told, and leave out what is empty."""
        return {name: log_data[name] for name in TOLD if log_data.get(name) not in (None, "")}

    def formatTime(self, record: logging.LogRecord, datefmt: str | None = None) -> str:
        """Time in UTC, to the millisecond."""
        return datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")


def logging_settings(form: str, level: str) -> dict[str, Any]:
    """Django's ``LOGGING``.

    Parameters
    ----------
    form : str
        One of ``FORMATS``.
    level : str
        Lowest level that is told.

    Raises
    ------
    ValueError
        If there is no such form.
    """
    if form not in FORMATS:
        raise ValueError(f"TRAINLOG_LOG_FORMAT is {' or '.join(FORMATS)}, not {form!r}.")
    formatters: dict[str, Any] = {
        "plain": {"format": "{asctime} {levelname} {name}{ids}: {message}", "style": "{"},
        "json": {
            "()": Json,
            "fmt": "{asctime} {levelname} {name} {message} {request_id} {task_id}",
            "style": "{",
            "rename_fields": {"asctime": "time", "levelname": "level", "name": "logger"},
            "json_ensure_ascii": False,
            "json_serializer": json.dumps,
        },
    }
    level = level.upper()
    # Celery's own line on each task gives what it was called with; ours gives its name, time and outcome.
    quiet = level if level == "DEBUG" else "WARNING"
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "filters": {
            "ids": {"()": "trainlog.telling.context.Ids"},
            "unaddressed": {"()": Unaddressed},
            "without_values": {"()": "trainlog.telling.without_values.WithoutValues"},
        },
        "formatters": formatters,
        "handlers": {
            "console": {
                "class": "logging.StreamHandler",
                "formatter": form,
                "filters": ["ids", "unaddressed", "without_values"],
            }
        },
        "root": {"handlers": ["console"], "level": level},
        "loggers": {
            # Django's own handlers would tell in debugging what this one tells already.
            "django": {"handlers": [], "propagate": True},
            "django.server": {"handlers": [], "propagate": True},
            # Statements to the database hold what is written to it.
            "django.db.backends": {"level": "INFO"},
            "celery": {"level": quiet},
            "kombu": {"level": quiet},
        },
    }
