"""What the log's workers do: idempotent, short, woken on commit and by the sweep."""

from celery import shared_task

from trainlog.services import demo, import_files, reading_queue
from trainlog.services import sweep as sweeping
from trainlog.services.wake import wake


@shared_task(name=import_files.READ_TASK)
def read_next(until_none_is_left: bool = False) -> None:
    """Read a received file: whichever is next, so that no log's files hold up another's.

    Parameters
    ----------
    until_none_is_left : bool
        Also wake another such task after this one, while files wait.
    """
    recording_id = reading_queue.take_next()
    if recording_id is None:
        return
    try:
        import_files.read_recording(recording_id)
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
