"""A look at the whole installation, one finding for each thing."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from trainlog.keeping import look_at_database, look_at_machine, look_at_site, look_at_work
from trainlog.keeping.findings import Finding
from trainlog.services.answering import database_answers
from trainlog.signals import installation_examined

Look = Callable[[], Finding]

WITHOUT_DATABASE: tuple[tuple[str, Look], ...] = (
    ("Python", look_at_machine.python),
    ("libraries", look_at_machine.libraries),
    ("data folder", look_at_machine.data_folder),
    ("space", look_at_machine.space),
    ("secret key", look_at_machine.key),
    ("passwords", look_at_machine.passwords),
    ("address", look_at_site.address),
    ("static files", look_at_site.static_files),
    ("settings", look_at_site.django_checks),
    ("queue", look_at_work.broker),
    ("wake-ups", look_at_work.lengths),
    ("workers", look_at_work.workers),
    ("database", look_at_database.reached),
)
WITH_DATABASE: tuple[tuple[str, Look], ...] = (
    ("tables", look_at_database.migrations),
    ("durability", look_at_database.durability),
    ("database file", look_at_database.soundness),
    ("database's clock", look_at_database.clocks),
    ("sweep", look_at_work.sweep),
    ("files", look_at_work.waiting_files),
    ("originals", look_at_database.sample_of_originals),
)
ASK_AGAIN = "Mend what stands above it and ask again."


def examine() -> Iterator[Finding]:
    """Look at everything; each finding as soon as it is there."""
    for name, look in WITHOUT_DATABASE:
        yield _looked(name, look)
    if not database_answers():
        return
    for name, look in WITH_DATABASE:
        yield _looked(name, look)
    for _, found in installation_examined.send_robust(sender=Finding):
        if isinstance(found, Exception):
            yield _could_not("learning", found)
        else:
            yield from found


def _looked(name: str, look: Look) -> Finding:
    """Give what a look finds; one that fails is a finding too, and the next go on."""
    try:
        return look()
    except Exception as error:
        return _could_not(name, error)


def _could_not(name: str, error: Exception) -> Finding:
    return Finding(name, f"could not be looked at ({type(error).__name__}).", ASK_AGAIN)
