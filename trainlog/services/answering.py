"""Whether the database and the queue answer at all."""

from __future__ import annotations

from django.db import DatabaseError, connection
from kombu.exceptions import OperationalError

from trainlog.celery import app


def database_answers() -> bool:
    """Whether the database answers a question."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return False
    return True


def queue_answers() -> bool:
    """Whether the queue's server takes a connection within two seconds."""
    try:
        with app.connection_for_write(connect_timeout=2) as queue:
            queue.ensure_connection(max_retries=0)
    except (OperationalError, OSError):
        return False
    return True
