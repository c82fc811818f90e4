"""What is done in the background: queue, workers, sweep, files that wait."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone
from kombu.exceptions import OperationalError

from trainlog.celery import app
from trainlog.keeping.findings import Finding, counted
from trainlog.models import Recording, SweepRun
from trainlog.services.answering import QUEUES, queue_answers, wake_ups
from trainlog.services.backlog import FILE_WAITS_TOO_LONG
from trainlog.services.progress import LATE

AHEAD = timedelta(seconds=5)
"""By how much another machine's clock may be ahead."""

START = "Start the log (`make run`, or its services), and look at what it says when it starts."
QUEUE_FIRST = "Mend the queue first."


def broker() -> Finding:
    """Whether the queue's server can be reached."""
    if queue_answers():
        return Finding("queue", "its server answers")
    return Finding("queue", "its server does not answer.", f"{START} TRAINLOG_BROKER_URL says where it is.")


def lengths() -> Finding:
    """How many wake-ups wait; a long queue alone is nothing bad."""
    if not queue_answers():
        return Finding("wake-ups", "cannot be counted without the queue.", QUEUE_FIRST)
    counts = wake_ups().items()
    return Finding("wake-ups", ", ".join(f"{count} waiting for {name}" for name, count in counts))


def workers(seconds: float = 2.0) -> Finding:
    """Whether a worker answers for each queue, whichever worker it is."""
    name = "workers"
    if not queue_answers():
        return Finding(name, "cannot be asked without the queue.", QUEUE_FIRST)
    try:
        answers = app.control.inspect(timeout=seconds).active_queues() or {}
    except (OperationalError, OSError):
        answers = {}
    served = {queue["name"] for queues in answers.values() for queue in queues}
    silent = [queue for queue in QUEUES if queue not in served]
    if silent:
        return Finding(name, f"none answers for {' and '.join(silent)}.", START)
    return Finding(name, f"{', '.join(sorted(answers))} answer")


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
    if waited <= FILE_WAITS_TOO_LONG:
        return Finding("files", said)
    return Finding("files", f"{said}.", "See that a worker runs and reads; a large import takes its time.")


def _in_words(span: timedelta) -> str:
    seconds = max(span.total_seconds(), 0)
    for unit, length in (("days", 86_400), ("hours", 3600), ("minutes", 60)):
        if seconds >= 2 * length:
            return f"{seconds / length:.0f} {unit}"
    return f"{seconds:.0f} seconds"
