"""What the log's workers do: idempotent, short, woken on commit and by the sweep."""

from celery import shared_task

from trainlog.services import import_files
from trainlog.services import sweep as sweeping


@shared_task(name="trainlog.tasks.read_recording")
def read_recording(recording_id: int) -> None:
    """Read a received file, unless it has been read or broke every attempt so far."""
    if sweeping.begin_reading(recording_id):
        import_files.read_recording(recording_id)


@shared_task(name="trainlog.tasks.sweep")
def sweep() -> None:
    """Find what nobody has taken up."""
    sweeping.sweep()
