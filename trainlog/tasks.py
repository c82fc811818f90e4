"""What the log's workers do: idempotent, short, woken on commit and by the sweep."""

import time

from celery import shared_task

from trainlog.services import demo, import_files, reading_queue
from trainlog.services import sweep as sweeping
from trainlog.services.wake import wake

READ_FOR = 1.0
"""Seconds after which a task that reads files begins no other: between two tasks, learning has its turn."""


@shared_task(name=import_files.READ_TASK)
def read_next(until_none_is_left: bool = False) -> None:
    """Read received files for a moment: whichever is next, so that no log's files hold up another's.

    Parameters
    ----------
    until_none_is_left : bool
        Also wake another such task after this one, while files wait.
    """
    ends = time.monotonic() + READ_FOR
    try:
        while (recording_id := reading_queue.take_next()) is not None:
            import_files.read_recording(recording_id)
            if time.monotonic() > ends:
                break
    finally:
        if until_none_is_left and reading_queue.is_anything_left():
            wake(import_files.READ_TASK, True)


@shared_task(name="trainlog.tasks.sweep")
def sweep() -> None:
    """Find what nobody has taken up."""
    sweeping.sweep()


@shared_task(name=demo.DEMO_TASK)
def make_demo(athlete_id: int) -> None:
    """Go on making a demo; in a further task when time is up."""
    if not demo.go_on_making(athlete_id):
        wake(demo.DEMO_TASK, athlete_id)
