"""The athlete's own log as tables to take along, for CSV and Parquet alike, written a piece at a time."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
from django.db.models import Prefetch, QuerySet

from trainlog.models import Athlete, CheckIn, LiftSet, LoadEstimate, Part, Recording
from trainlog.models.check_in import ITEMS, RANGES
from trainlog.services.lift_sets import sums_of

ROWS_AT_ONCE = 500
"""Rows of a piece: of ten years of training, no more than these are held at once."""

FORMULA_STARTS = frozenset("=+-@\t\r\n")
"""What makes a table program take a text for a formula."""

Row = Mapping[str, Any]

INSTANT = pa.timestamp("ms", tz="UTC")
TEXT = pa.string()
WHOLE = pa.int64()
FIGURE = pa.float64()


@dataclass(frozen=True)
class Table:
    """Columns with types and units, and what yields the rows of an athlete's days."""

    schema: pa.Schema
    rows: Callable[[Athlete, date | None, date | None], Iterator[Row]]


def csv_pieces(athlete: Athlete, table: str, first: date | None, last: date | None) -> Iterator[bytes]:
    """Pieces of a table as comma-separated values in UTF-8, its header first.

    Instants are ISO 8601 in UTC, days ISO 8601, an empty cell is what is not known. A text that a table
    program would take for a formula, because it begins with one of ``= + - @``, a tab or a line's end, gets
    an apostrophe before it.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    table : str
        One of `TABLES`.
    first, last : date or None
        Local days, both included; None leaves that end open.
    """
    names = TABLES[table].schema.names
    yield _csv([names])
    for rows in _in_pieces(TABLES[table].rows(athlete, first, last)):
        yield _csv([_cell(row[name]) for name in names] for row in rows)


def parquet_pieces(athlete: Athlete, table: str, first: date | None, last: date | None) -> Iterator[bytes]:
    """Pieces of a table as a Parquet file: the same columns with types, units in the fields' metadata.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    table : str
        One of `TABLES`.
    first, last : date or None
        Local days, both included; None leaves that end open.
    """
    schema = TABLES[table].schema
    sink = _Sink()
    with pq.ParquetWriter(sink, schema) as writer:
        for rows in _in_pieces(TABLES[table].rows(athlete, first, last)):
            writer.write_table(pa.Table.from_pylist(rows, schema=schema))
            yield sink.taken()
    yield sink.taken()


def _workouts(athlete: Athlete, first: date | None, last: date | None) -> Iterator[Row]:
    """Rows of ``workouts``, one for each part, oldest first."""
    shown = LoadEstimate.objects.of(athlete).filter(measure=athlete.measure, source=athlete.current_source)
    shown = shown.defer("all_draws", "sensor_draws", "physiology_draws")
    worn = Recording.objects.of(athlete).select_related("sensor").order_by("start", "sha256")
    worn = worn.only("workout", "sensor__name", "start", "sha256")
    parts = (
        _within(Part.objects.of(athlete), "workout__day", first, last)
        .select_related("workout", "activity")
        .prefetch_related("workout__tags", "lift_sets")
        .prefetch_related(Prefetch("workout__recordings", worn))
        .prefetch_related(Prefetch("estimates", shown))
        .order_by("start", "pk")
    )
    for part in parts.iterator(chunk_size=ROWS_AT_ONCE):
        yield _workout_row(part)


def _workout_row(part: Part) -> Row:
    workout = part.workout
    estimate = next(iter(part.estimates.all()), None)
    sensors = [recording.sensor.name for recording in workout.recordings.all() if recording.sensor]
    return {
        "workout": workout.pk,
        "part": part.pk,
        "start": part.start,
        "end": part.end,
        "day": workout.day,
        "activity": part.activity.slug,
        "family": part.activity.family,
        "minutes": part.seconds / 60,
        "session_rpe": part.session_rpe,
        "note": workout.note,
        "tags": ", ".join(tag.name for tag in workout.tags.all()),
        "measure": estimate.measure if estimate else None,
        "load_low": estimate.low if estimate else None,
        "load_median": estimate.median if estimate else None,
        "load_high": estimate.high if estimate else None,
        "sensor_half_width": estimate.sensor_half_width if estimate and estimate.median > 0 else None,
        "basis": estimate.basis if estimate else None,
        "confidence": estimate.confidence if estimate else None,
        "reason": estimate.reason if estimate else None,
        "load_raw": estimate.raw if estimate else None,
        "sensors": ", ".join(dict.fromkeys(sensors)),
        "tonnage_kg": sums_of(part.lift_sets.all()).tonnage,
    }


def _check_ins(athlete: Athlete, first: date | None, last: date | None) -> Iterator[Row]:
    """Rows of ``check-ins``, one for each morning noted, oldest first."""
    rows = _within(CheckIn.objects.of(athlete), "day", first, last).order_by("day")
    for row in rows.iterator(chunk_size=ROWS_AT_ONCE):
        figures = {UNITS_OF_MORNINGS.get(name, name): getattr(row, name) for name in (*RANGES, *ITEMS)}
        yield {"day": row.day, **figures, "note": row.note}


def _sets(athlete: Athlete, first: date | None, last: date | None) -> Iterator[Row]:
    """Rows of ``sets``, one for each line of sets, oldest first."""
    rows = (
        _within(LiftSet.objects.of(athlete), "part__workout__day", first, last)
        .select_related("part__workout", "part__activity")
        .order_by("part__start", "part", "place")
    )
    for row in rows.iterator(chunk_size=ROWS_AT_ONCE):
        yield {
            "workout": row.part.workout_id,
            "part": row.part_id,
            "day": row.part.workout.day,
            "activity": row.part.activity.slug,
            "place": row.place + 1,
            "exercise": row.exercise,
            "sets": row.sets,
            "repetitions": row.repetitions,
            "load_kg": row.kilograms,
            "rpe": row.rpe,
            "tonnage_kg": row.tonnage,
        }


def _column(name: str, kind: pa.DataType, unit: str = "", meaning: str = "") -> pa.Field:
    said = {"unit": unit, "description": meaning}
    return pa.field(name, kind, metadata={key: words for key, words in said.items() if words})


UNITS_OF_MORNINGS = {"resting_rate": "resting_rate_bpm", "rmssd": "rmssd_ms"}
"""Columns of the mornings whose name says their unit."""

MARK = "1 to 7, 7 the worst"
ARBITRARY = "arbitrary units of the measure"
BOUND = "of the 80% interval, all doubt"

TABLES = {
    "workouts": Table(
        pa.schema(
            [
                _column("workout", WHOLE, meaning="the same for the parts of one workout"),
                _column("part", WHOLE),
                _column("start", INSTANT),
                _column("end", INSTANT),
                _column("day", pa.date32(), meaning="local day on which the workout began"),
                _column("activity", TEXT),
                _column("family", TEXT, meaning="kind of work"),
                _column("minutes", FIGURE, "min"),
                _column("session_rpe", FIGURE, "0 to 10"),
                _column("note", TEXT, meaning="of the workout"),
                _column("tags", TEXT, meaning="of the workout, separated by commas"),
                _column("measure", TEXT, meaning="of load; loads of two measures do not add up"),
                _column("load_low", FIGURE, ARBITRARY, f"lower bound {BOUND}"),
                _column("load_median", FIGURE, ARBITRARY),
                _column("load_high", FIGURE, ARBITRARY, f"upper bound {BOUND}"),
                _column(
                    "sensor_half_width",
                    FIGURE,
                    "share of the median, 0.1 is ±10%",
                    "half-width of the 80% interval from the sensor's doubt alone",
                ),
                _column("basis", TEXT, meaning="what the load rests on"),
                _column("confidence", TEXT, meaning="by the sensor's doubt"),
                _column("reason", TEXT),
                _column("load_raw", FIGURE, ARBITRARY, "of the recording as it stands, without correction"),
                _column("sensors", TEXT, meaning="that recorded the workout, separated by commas"),
                _column("tonnage_kg", FIGURE, "kg", "of the weighed sets; beside the load, not in it"),
            ]
        ),
        _workouts,
    ),
    "check-ins": Table(
        pa.schema(
            [
                _column("day", pa.date32(), meaning="local day"),
                _column("resting_rate_bpm", FIGURE, "bpm"),
                _column("rmssd_ms", FIGURE, "ms"),
                _column("sleep_hours", FIGURE, "h"),
                *(_column(name, WHOLE, MARK) for name in ITEMS),
                _column("note", TEXT),
            ]
        ),
        _check_ins,
    ),
    "sets": Table(
        pa.schema(
            [
                _column("workout", WHOLE),
                _column("part", WHOLE),
                _column("day", pa.date32(), meaning="local day on which the workout began"),
                _column("activity", TEXT),
                _column("place", WHOLE, meaning="order within the part, from 1"),
                _column("exercise", TEXT),
                _column("sets", WHOLE, "count"),
                _column("repetitions", WHOLE, "count", "in each set"),
                _column("load_kg", FIGURE, "kg", "outside the body; empty where only the body is moved"),
                _column("rpe", FIGURE, "0 to 10"),
                _column("tonnage_kg", FIGURE, "kg", "sets times repetitions times load"),
            ]
        ),
        _sets,
    ),
}
"""What can be taken along, by name. The one place that says which columns a table has."""


class _Sink(io.RawIOBase):
    """A file to write to, from which what was written is taken piece by piece."""

    def __init__(self) -> None:
        self.pieces: list[bytes] = []

    def writable(self) -> bool:
        return True

    def write(self, piece: Any) -> int:
        self.pieces.append(bytes(piece))
        return len(piece)

    def taken(self) -> bytes:
        whole = b"".join(self.pieces)
        self.pieces = []
        return whole


def _within(rows: QuerySet[Any], day: str, first: date | None, last: date | None) -> QuerySet[Any]:
    if first:
        rows = rows.filter(**{f"{day}__gte": first})
    if last:
        rows = rows.filter(**{f"{day}__lte": last})
    return rows


def _in_pieces(rows: Iterator[Row]) -> Iterator[list[Row]]:
    while piece := list(islice(rows, ROWS_AT_ONCE)):
        yield piece


def _csv(rows: Iterable[list[Any]]) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue().encode()


def _cell(value: Any) -> Any:
    if isinstance(value, str):
        return f"'{value}" if value[:1] in FORMULA_STARTS else value
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%dT%H:%M:%SZ}"
    # Ten digits: the rest of a double is noise.
    return f"{value:.10g}" if isinstance(value, float) else value
