"""The regular sweep: finds what nobody has taken up, and gives up what breaks every time."""

from __future__ import annotations

from django.utils import timezone

from trainlog.models import SweepRun
from trainlog.services.delete_log import clear_away_leavings
from trainlog.services.deletions import forget_old
from trainlog.services.demo import DEMO_TASK, demos_to_go_on_with
from trainlog.services.import_files import READ_TASK
from trainlog.services.publications import forget_old_publications
from trainlog.services.reading_queue import give_up, overdue
from trainlog.services.upload_keys import forget_old_keys
from trainlog.services.wake import wake
from trainlog.signals import log_swept

AT_ONCE = 4
"""Wake-ups that one sweep sends for files that wait; each is followed by another while any is left."""


def sweep() -> SweepRun:
    """Wake workers for what waits, forget what can no longer be put back, and note the run."""
    given_up = give_up()
    woken = sum(wake(READ_TASK, True) for _ in range(min(overdue(), AT_ONCE)))
    for demo in demos_to_go_on_with():
        wake(DEMO_TASK, demo.pk)
    clear_away_leavings()
    log_swept.send_robust(sender=SweepRun)
    forget_old()
    forget_old_keys()
    forget_old_publications()
    run, _ = SweepRun.objects.update_or_create(
        pk=SweepRun.THE_ONE, defaults={"ended_at": timezone.now(), "woken": woken, "given_up": given_up}
    )
    return run
