"""Traces to take along: a column a channel, a row a second, written a piece at a time."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from trainlog.services.exports import Sink
from trainlog.trace import FloatArray, Trace

SECONDS_AT_ONCE = 3600

KINDS = {
    "csv": "text/csv; charset=utf-8",
    "parquet": "application/vnd.apache.parquet",
    "arrow": "application/vnd.apache.arrow.stream",
}
"""What traces are handed out as, with the media type of each."""

NAMES = {
    "heart_rate": "heart_rate_bpm",
    "cadence": "cadence_per_min",
    "speed": "speed_m_per_s",
    "power": "power_w",
    "altitude": "altitude_m",
    "latitude": "latitude_deg",
    "longitude": "longitude_deg",
}
"""Column of each channel; its unit ends its name."""


@dataclass(frozen=True)
class Columns:
    """Signals at 1 Hz under the names of their columns.

    Attributes
    ----------
    start : datetime
        Instant of the first second, in UTC.
    values : mapping of str to array, shape (seconds,)
        NaN where nothing was recorded.
    """

    start: datetime
    values: Mapping[str, FloatArray]

    @property
    def seconds(self) -> int:
        """Rows."""
        return len(next(iter(self.values.values())))

    def times(self, begins: int, ends: int) -> np.ndarray[Any, np.dtype[np.datetime64]]:
        """Instants of some of the rows."""
        first = np.datetime64(self.start.replace(tzinfo=None), "s")
        return first + np.arange(begins, ends).astype("timedelta64[s]")


def columns_of(trace: Trace) -> Columns:
    """Every channel of a trace."""
    values = {"heart_rate": trace.heart_rate, **trace.others}
    return Columns(trace.start, {NAMES[name]: values[name] for name in NAMES if name in values})


def pieces(kind: str, columns: Columns) -> Iterator[bytes]:
    """Signals as a file of one of `KINDS`, piece by piece; what was not recorded is empty, or null."""
    return _csv(columns) if kind == "csv" else _arrow(kind, columns)


def _stretches(columns: Columns) -> Iterator[tuple[int, int]]:
    for begins in range(0, columns.seconds, SECONDS_AT_ONCE):
        yield begins, min(begins + SECONDS_AT_ONCE, columns.seconds)


def _csv(columns: Columns) -> Iterator[bytes]:
    yield (",".join(["time", *columns.values]) + "\n").encode()
    for begins, ends in _stretches(columns):
        text = io.StringIO()
        cells = ([_cell(value) for value in values[begins:ends]] for values in columns.values.values())
        times = (f"{time}Z" for time in columns.times(begins, ends))
        csv.writer(text, lineterminator="\n").writerows(zip(times, *cells, strict=True))
        yield text.getvalue().encode()


def _cell(value: float) -> str:
    # Ten digits: the rest of a double is noise.
    return f"{value:.10g}" if np.isfinite(value) else ""


def _arrow(kind: str, columns: Columns) -> Iterator[bytes]:
    # Only these files need the library, whose import takes each process a tenth of a second.
    import pyarrow as pa  # noqa: PLC0415
    import pyarrow.parquet as pq  # noqa: PLC0415

    schema = pa.schema(
        [("time", pa.timestamp("s", tz="UTC")), *((name, pa.float64()) for name in columns.values)]
    )
    sink = Sink()
    with pq.ParquetWriter(sink, schema) if kind == "parquet" else pa.ipc.new_stream(sink, schema) as writer:
        for begins, ends in _stretches(columns):
            arrays = [pa.array(columns.times(begins, ends), type=schema.field("time").type)]
            arrays += [pa.array(values[begins:ends], from_pandas=True) for values in columns.values.values()]
            writer.write_batch(pa.record_batch(arrays, schema=schema))
            yield sink.taken()
    yield sink.taken()
