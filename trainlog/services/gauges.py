"""How the whole installation stands, asked of database and queue when somebody looks."""

from __future__ import annotations

from collections.abc import Iterator

from django.db import DatabaseError
from django.utils import timezone
from kombu.exceptions import OperationalError
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector

from trainlog.models import Athlete, Recording, SweepRun, Workout
from trainlog.services.answering import database_answers, wake_ups
from trainlog.services.backlog import backlogs

COUNTED = {"logs": Athlete, "workouts": Workout, "recordings": Recording}
"""Tables whose rows are counted: small ones, for counting reads them whole."""


class Gauges(Collector):
    """Makes the gauges anew each time; what cannot be asked is left out, and its server said to be down."""

    def collect(self) -> Iterator[GaugeMetricFamily]:
        """Ask the queue, then the database."""
        yield from _queue()
        if not database_answers():
            yield GaugeMetricFamily("trainlog_database_up", "Whether the database answers.", 0)
            return
        try:
            found = [*_work(), *_sweep(), *_rows()]
        except DatabaseError:
            found = []
        yield GaugeMetricFamily("trainlog_database_up", "Whether the database answers.", bool(found))
        yield from found


def _queue() -> Iterator[GaugeMetricFamily]:
    try:
        waiting = wake_ups()
    except (OperationalError, OSError):
        yield GaugeMetricFamily("trainlog_queue_up", "Whether the queue's server answers.", 0)
        return
    yield GaugeMetricFamily("trainlog_queue_up", "Whether the queue's server answers.", 1)
    yield _family("trainlog_wake_ups", "Wake-ups that wait, by queue.", "queue", waiting)


def _work() -> Iterator[GaugeMetricFamily]:
    found = backlogs()
    for name, text, values in (
        ("waiting", "Pieces of work that wait or are being done.", {b.name: b.waiting for b in found}),
        ("oldest_seconds", "Seconds that the oldest has waited.", {b.name: b.age() for b in found}),
        ("stale", "Pieces taken up, not ended, and left.", {b.name: b.stale for b in found}),
        ("failed", "Pieces that were given up.", {b.name: b.failed for b in found}),
    ):
        yield _family(f"trainlog_work_{name}", text, "work", values)


def _sweep() -> Iterator[GaugeMetricFamily]:
    last = SweepRun.last()
    if last is not None:
        ago = (timezone.now() - last.ended_at).total_seconds()
        yield GaugeMetricFamily("trainlog_sweep_age_seconds", "Seconds since the last sweep ended.", ago)


def _rows() -> Iterator[GaugeMetricFamily]:
    rows = {name: model._default_manager.count() for name, model in COUNTED.items()}
    yield _family("trainlog_rows", "Rows, by kind.", "kind", rows)


def _family(name: str, text: str, label: str, values: dict[str, int] | dict[str, float]) -> GaugeMetricFamily:
    family = GaugeMetricFamily(name, text, labels=[label])
    for value_of, value in values.items():
        family.add_metric([value_of], value)
    return family
