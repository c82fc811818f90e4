"""The athlete's own log as tables to take along, for CSV and Parquet alike, written a piece at a time."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice
from typing import Any, Literal

from django.db.models import Prefetch, QuerySet

from trainlog.models import Athlete, CheckIn, LiftSet, LoadEstimate, Part, Recording
from trainlog.models.check_in import ITEMS, RANGES
from trainlog.services.lift_sets import sums_of

ROWS_AT_ONCE = 500
"""Rows of a piece: of ten years of training, no more than these are held at once."""

FORMULA_STARTS = frozenset("=+-@\t\r\n")
"""What makes a table program take a text for a formula."""

Row = Mapping[str, Any]

Kind = Literal["instant", "day", "text", "whole", "figure"]
INSTANT: Kind = "instant"
DAY: Kind = "day"
TEXT: Kind = "text"
WHOLE: Kind = "whole"
FIGURE: Kind = "figure"


@dataclass(frozen=True)
class Column:
    """A column: what kind of values it holds, in which unit, and what they mean."""

    name: str
    kind: Kind
    unit: str = ""
    meaning: str = ""


@dataclass(frozen=True)
class Table:
    """Columns with kinds and units, and what yields the rows of an athlete's days."""

    columns: Sequence[Column]
    rows: Callable[[Athlete, date | None, date | None], Iterator[Row]]

    @property
    def names(self) -> list[str]:
        """Names of the columns in order."""
        return [column.name for column in self.columns]


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
    names = TABLES[table].names
    yield _csv([names])
    for rows in _in_pieces(TABLES[table].rows(athlete, first, last)):
        yield _csv([csv_cell(row[name]) for name in names] for row in rows)


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
    # Only a Parquet file needs the library, whose import takes each process a tenth of a second.
    import pyarrow as pa  # noqa: PLC0415
    import pyarrow.parquet as pq  # noqa: PLC0415

    schema = _parquet_schema(TABLES[table].columns)
    sink = Sink()
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


def _parquet_schema(columns: Sequence[Column]) -> Any:
    import pyarrow as pa  # noqa: PLC0415

    types = {
        INSTANT: pa.timestamp("ms", tz="UTC"),
        DAY: pa.date32(),
        TEXT: pa.string(),
        WHOLE: pa.int64(),
        FIGURE: pa.float64(),
    }
    said = ({"unit": column.unit, "description": column.meaning} for column in columns)
    return pa.schema(
        pa.field(
            column.name, types[column.kind], metadata={key: words for key, words in of_it.items() if words}
        )
        for column, of_it in zip(columns, said, strict=True)
    )


UNITS_OF_MORNINGS = {"resting_rate": "resting_rate_bpm", "rmssd": "rmssd_ms"}
"""Columns of the mornings whose name says their unit."""

MARK = "1 to 7, 7 the worst"
ARBITRARY = "arbitrary units of the measure"
BOUND = "of the 80% interval, all doubt"

TABLES = {
    "workouts": Table(
        (
            Column("workout", WHOLE, meaning="the same for the parts of one workout"),
            Column("part", WHOLE),
            Column("start", INSTANT),
            Column("end", INSTANT),
            Column("day", DAY, meaning="local day on which the workout began"),
            Column("activity", TEXT),
            Column("family", TEXT, meaning="kind of work"),
            Column("minutes", FIGURE, "min"),
            Column("session_rpe", FIGURE, "0 to 10"),
            Column("note", TEXT, meaning="of the workout"),
            Column("tags", TEXT, meaning="of the workout, separated by commas"),
            Column("measure", TEXT, meaning="of load; loads of two measures do not add up"),
            Column("load_low", FIGURE, ARBITRARY, f"lower bound {BOUND}"),
            Column("load_median", FIGURE, ARBITRARY),
            Column("load_high", FIGURE, ARBITRARY, f"upper bound {BOUND}"),
            Column(
                "sensor_half_width",
                FIGURE,
                "share of the median, 0.1 is ±10%",
                "half-width of the 80% interval from the sensor's doubt alone",
            ),
            Column("basis", TEXT, meaning="what the load rests on"),
            Column("confidence", TEXT, meaning="by the sensor's doubt"),
            Column("reason", TEXT),
            Column("load_raw", FIGURE, ARBITRARY, "of the recording as it stands, without correction"),
            Column("sensors", TEXT, meaning="that recorded the workout, separated by commas"),
            Column("tonnage_kg", FIGURE, "kg", "of the weighed sets; beside the load, not in it"),
        ),
        _workouts,
    ),
    "check-ins": Table(
        (
            Column("day", DAY, meaning="local day"),
            Column("resting_rate_bpm", FIGURE, "bpm"),
            Column("rmssd_ms", FIGURE, "ms"),
            Column("sleep_hours", FIGURE, "h"),
            *(Column(name, WHOLE, MARK) for name in ITEMS),
            Column("note", TEXT),
        ),
        _check_ins,
    ),
    "sets": Table(
        (
            Column("workout", WHOLE),
            Column("part", WHOLE),
            Column("day", DAY, meaning="local day on which the workout began"),
            Column("activity", TEXT),
            Column("place", WHOLE, meaning="order within the part, from 1"),
            Column("exercise", TEXT),
            Column("sets", WHOLE, "count"),
            Column("repetitions", WHOLE, "count", "in each set"),
            Column("load_kg", FIGURE, "kg", "outside the body; empty where only the body is moved"),
            Column("rpe", FIGURE, "0 to 10"),
            Column("tonnage_kg", FIGURE, "kg", "sets times repetitions times load"),
        ),
        _sets,
    ),
}
"""What can be taken along, by name. The one place that says which columns a table has."""


class Sink(io.RawIOBase):
    """A file to write to, from which what was written is taken piece by piece."""

    def __init__(self) -> None:
        self.pieces: list[bytes] = []

    def writable(self) -> bool:
        """Whether it can be written to: always."""
        return True

    def write(self, piece: Any) -> int:
        """Take a piece."""
        self.pieces.append(bytes(piece))
        return len(piece)

    def taken(self) -> bytes:
        """Hand out what was written since the last time."""
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


def csv_cell(value: Any) -> Any:
    """Value as it stands in a CSV file: ten digits, and no text that a table program takes for a formula."""
    if isinstance(value, str):
        return f"'{value}" if value[:1] in FORMULA_STARTS else value
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%dT%H:%M:%SZ}"
    # Ten digits: the rest of a double is noise.
    return f"{value:.10g}" if isinstance(value, float) else value
