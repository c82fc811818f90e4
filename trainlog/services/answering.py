"""Whether the database and the queue answer at all."""

from __future__ import annotations

from typing import Any

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from kombu import Connection
from kombu.exceptions import OperationalError

from trainlog.celery import app

QUEUES = tuple(
    sorted({app.conf.task_default_queue, *(route["queue"] for route in app.conf.task_routes.values())})
)
"""Queues that tasks are sent to."""


def database_answers() -> bool:
    """Whether the database answers a question."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return False
    return True


def tables_are_there() -> bool:
    """Whether every migration of this version was applied; those of a newer one do no harm."""
    try:
        executor = MigrationExecutor(connection)
        return not executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return False


def queue_answers() -> bool:
    """Whether the queue's server takes a connection within two seconds."""
    try:
        with app.connection_for_write(connect_timeout=2) as queue:
            queue.ensure_connection(max_retries=0)
    except (OperationalError, OSError):
        return False
    return True


def wake_ups() -> dict[str, int]:
    """How many wake-ups wait in each queue.

    Raises
    ------
    OperationalError, OSError
        If the queue's server does not answer.
    """
    with app.connection_for_read(connect_timeout=2) as connection:
        connection.ensure_connection(max_retries=0)
        return {name: _length(connection, name) for name in QUEUES}


def _length(connection: Connection, name: str) -> int:
    try:
        channel: Any = connection.default_channel
        return int(channel.queue_declare(queue=name, passive=True).message_count)
    except connection.channel_errors:
        return 0  # never used yet
