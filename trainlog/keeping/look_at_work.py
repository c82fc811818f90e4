"""What is done in the background: queue, workers, sweep, files that wait."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone
from kombu.exceptions import OperationalError

from trainlog.celery import app
from trainlog.keeping.findings import Finding, counted
from trainlog.models import Recording, SweepRun
from trainlog.services.answering import queue_answers
from trainlog.services.progress import LATE

WAITS_TOO_LONG = timedelta(minutes=15)
AHEAD = timedelta(seconds=5)
"""By how much another machine's clock may be ahead."""

START = "Start the log (`make run`, or its services), and look at what it says when it starts."
QUEUE_FIRST = "Mend the queue first."
QUEUES = ("work", "sweep")


def broker() -> Finding:
    """Whether the queue's server can be reached."""
    if queue_answers():
        return Finding("queue", "its server answers")
    return Finding("queue", "its server does not answer.", f"{START} TRAINLOG_BROKER_URL says where it is.")


def lengths() -> Finding:
    """How many wake-ups wait; a long queue alone is nothing bad."""
    if not queue_answers():
        return Finding("wake-ups", "cannot be counted without the queue.", QUEUE_FIRST)
    with app.connection_for_read() as connection:
        waiting = {name: _length(connection, name) for name in QUEUES}
    return Finding("wake-ups", ", ".join(f"{count} waiting for {name}" for name, count in waiting.items()))


def workers(seconds: float = 2.0) -> Finding:
    """Whether a worker of each kind answers."""
    name = "workers"
    if not queue_answers():
        return Finding(name, "cannot be asked without the queue.", QUEUE_FIRST)
    try:
        answers = app.control.ping(timeout=seconds)
    except (OperationalError, OSError):
        answers = []
    found = [host for answer in answers or [] for host in answer]
    silent = [kind for kind in QUEUES if not any(host.startswith(f"{kind}@") for host in found)]
    if silent:
        return Finding(name, f"none answers for {' and '.join(silent)}.", START)
    return Finding(name, f"{', '.join(sorted(found))} answer")


def sweep() -> Finding:
    """Whether the regular sweep has come by lately, and not in the future."""
    last = SweepRun.last()
    if last is None:
        return Finding("sweep", "there has been none yet.", START)
    ago = timezone.now() - last.ended_at
    if ago < -AHEAD:
        return Finding(
            "sweep",
            f"the last one ended {-ago.total_seconds():.0f} seconds in the future: a clock was set back, or "
            "two machines differ.",
            "Have all machines set their clocks by network time; the next sweep puts it right.",
        )
    if ago > LATE:
        return Finding("sweep", f"the last one ended {_in_words(ago)} ago.", START)
    return Finding("sweep", f"the last one ended {max(ago.total_seconds(), 0):.0f} seconds ago")


def waiting_files() -> Finding:
    """How long the oldest file has waited to be read."""
    waiting = Recording.objects.filter(state=Recording.State.RECEIVED).order_by("received_at")
    oldest = waiting.values_list("received_at", flat=True).first()
    if oldest is None:
        return Finding("files", "none waits to be read")
    waited = timezone.now() - oldest
    count = waiting.count()
    wait = "waits" if count == 1 else "wait"
    said = f"{counted(count, 'file')} {wait} to be read, the oldest for {_in_words(waited)}"
    if waited <= WAITS_TOO_LONG:
        return Finding("files", said)
    return Finding("files", f"{said}.", "See that a worker runs and reads; a large import takes its time.")


def _length(connection: object, name: str) -> int:
    channel = connection.default_channel  # type: ignore[attr-defined]
    try:
        return int(channel.queue_declare(queue=name, passive=True).message_count)
    except connection.channel_errors:  # type: ignore[attr-defined]
        return 0  # never used yet


def _in_words(span: timedelta) -> str:
    seconds = max(span.total_seconds(), 0)
    for unit, length in (("days", 86_400), ("hours", 3600), ("minutes", 60)):
        if seconds >= 2 * length:
            return f"{seconds / length:.0f} {unit}"
    return f"{seconds:.0f} seconds"
