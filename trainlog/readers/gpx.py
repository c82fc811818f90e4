"""GPX 1.1 tracks with heart rate, read as a stream by a hardened XML parser.

The format has no element for heart rate: it sits in the extensions of a point, in a namespace of the
writer's choice. Elements are therefore told by their local name alone, at any depth below the point.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from io import BytesIO
from itertools import pairwise
from typing import Any
from xml.sax import SAXException, SAXParseException
from xml.sax.handler import ContentHandler
from xml.sax.xmlreader import AttributesImpl

import numpy as np
from defusedxml.common import DefusedXmlException
from defusedxml.sax import make_parser

from trainlog.readers.checks import refuse_too_many_samples
from trainlog.readers.errors import UnreadableFile
from trainlog.readers.reading import Clock
from trainlog.readers.samples import Samples, Stretch

LARGEST_FILE = 64 * 2**20
"""Bytes; two days at one point a second stay below."""

LONGEST_TAG = 100_000
"""Bytes between two ends of tags; no element of a track comes near."""

MOST_TRACKS = 1000
"""Tracks of one file."""

DEEPEST = 50
"""Levels of nesting; a point of a track needs fewer than ten."""

_LONGEST_TEXT = 200
_CHANNELS = {
    "hr": "heart_rate",
    "heartrate": "heart_rate",
    "cad": "cadence",
    "cadence": "cadence",
    "power": "power",
    "powerinwatts": "power",
    "speed": "speed",
    "ele": "altitude",
}
_EXPORT_AGAIN = "Export the workout again, or import the device's own file."


def decode(data: bytes, *, keep_positions: bool) -> Samples:
    """Decode all tracks of a GPX file, in order of time.

    Parameters
    ----------
    data : bytes
        The whole file.
    keep_positions : bool
        Whether latitude and longitude are wanted.

    Returns
    -------
    Samples
        The clock counts as synchronised when the points move, since positions then come with
        satellite time.

    Raises
    ------
    UnreadableFile
        If the file is no well-formed GPX, declares a document type or nests too deeply.
    """
    _refuse_size(data)
    points = _Points()
    parser = make_parser()
    parser.forbid_dtd = True
    parser.setContentHandler(points)
    try:
        parser.parse(BytesIO(data))
    except DefusedXmlException as error:
        raise UnreadableFile(
            "The file declares a document type or entities, which no track needs and which can do harm",
            remedy=_EXPORT_AGAIN,
        ) from error
    except SAXParseException as error:
        raise UnreadableFile(
            "The XML of the file is broken", where=f"line {error.getLineNumber()}", remedy=_EXPORT_AGAIN
        ) from error
    except (SAXException, ValueError, LookupError) as error:
        raise UnreadableFile("The XML of the file cannot be read", remedy=_EXPORT_AGAIN) from error
    return _to_samples(points, keep_positions)


def _refuse_size(data: bytes) -> None:
    if len(data) > LARGEST_FILE:
        raise UnreadableFile(
            f"The file is larger than {LARGEST_FILE // 2**20} MB, which no single workout is",
            remedy="Split it into one file for each workout.",
        )
    for place in range(0, len(data) - LONGEST_TAG, LONGEST_TAG):
        if data.find(b">", place, place + LONGEST_TAG) < 0:
            raise UnreadableFile(
                "An element of the file is far too long for a track",
                where=f"byte {place:,}",
                remedy=_EXPORT_AGAIN,
            )


def _to_samples(points: _Points, keep_positions: bool) -> Samples:
    tracks = [track for track in points.tracks if track.rows]
    if not tracks:
        raise UnreadableFile(
            "The file has no track points", remedy="Export the workout as a track, not a route."
        )
    if not any("heart_rate" in row for track in tracks for row in track.rows):
        raise UnreadableFile(
            "The track holds no heart rate",
            remedy="Export it with heart rate, or import the device's own file.",
        )
    notes = []
    pieces = [piece for track in tracks for piece in track.pieces()]
    pieces.sort(key=lambda piece: min((row["time"] for row in piece if "time" in row), default=np.inf))
    if len(pieces) > 1:
        notes.append(f"{len(pieces)} track segments were joined in order of time.")
    if points.without_zone:
        notes.append("Times without a time zone were taken as UTC.")
    if points.unreadable:
        notes.append(f"{points.unreadable:,} values that are no numbers or times were left out.")
    rows = [row for piece in pieces for row in piece]
    names = {name for row in rows for name in row} - {"time", "latitude", "longitude"}
    columns = sorted(names | ({"latitude", "longitude"} if keep_positions else set()))
    return Samples(
        format="gpx",
        times=_column(rows, "time"),
        channels={name: _column(rows, name) for name in columns},
        source_key=f"gpx:{points.creator}" if points.creator else "",
        clock=Clock.SYNCHRONISED if _moves(rows) else Clock.UNKNOWN,
        stretches=tuple(_stretches(tracks)),
        notes=tuple(notes),
    )


class _Track:
    """Points of one track, each a mapping of names to numbers."""

    def __init__(self) -> None:
        self.sport = ""
        self.rows: list[dict[str, float]] = []
        self.starts: list[int] = []

    def pieces(self) -> list[list[dict[str, float]]]:
        edges = [*self.starts, len(self.rows)]
        return [self.rows[a:b] for a, b in pairwise(edges) if a < b]


class _Points(ContentHandler):
    """Collects the points of all tracks while the parser streams."""

    def __init__(self) -> None:
        super().__init__()
        self.creator = ""
        self.tracks: list[_Track] = []
        self.without_zone = False
        self.unreadable = 0
        self._depth = 0
        self._count = 0
        self._row: dict[str, float] | None = None
        self._text: list[str] | None = None
        self._put: Callable[[str], Any] | None = None

    def startElement(self, name: str, attributes: AttributesImpl) -> None:
        self._depth += 1
        local = name.rpartition(":")[2]
        if self._depth == 1:
            self._root(local, attributes)
        if self._depth > DEEPEST:
            raise UnreadableFile(
                f"The XML of the file nests deeper than {DEEPEST} levels", remedy=_EXPORT_AGAIN
            )
        self._text = self._put = None
        if local == "trk":
            if len(self.tracks) == MOST_TRACKS:
                raise UnreadableFile(
                    f"The file holds more than {MOST_TRACKS:,} tracks", remedy="Split it into smaller files."
                )
            self.tracks.append(_Track())
        elif self.tracks and self._row is None:
            self._in_track(local, attributes)
        elif self._row is not None:
            self._in_point(local.lower())

    def characters(self, content: str) -> None:
        if self._text is not None and len(self._text) < _LONGEST_TEXT:
            self._text.append(content[:_LONGEST_TEXT])

    def endElement(self, name: str) -> None:
        self._depth -= 1
        if self._put is not None and self._text is not None:
            try:
                self._put("".join(self._text).strip())
            except (ValueError, OverflowError):
                self.unreadable += 1
        self._text = self._put = None
        if name.rpartition(":")[2] == "trkpt":
            self._row = None

    def _root(self, local: str, attributes: AttributesImpl) -> None:
        if local != "gpx":
            raise UnreadableFile(
                "This is XML, but not a GPX track", remedy="Export the workout as FIT, GPX or text."
            )
        self.creator = " ".join(attributes.get("creator", "").split())[:_LONGEST_TEXT]

    def _in_track(self, local: str, attributes: AttributesImpl) -> None:
        track = self.tracks[-1]
        if local == "type":
            self._text, self._put = [], lambda text: setattr(track, "sport", text.lower())
        elif local == "trkseg":
            track.starts.append(len(track.rows))
        elif local == "trkpt":
            self._count += 1
            refuse_too_many_samples(self._count)
            if not track.starts:
                track.starts.append(0)
            self._row = {}
            track.rows.append(self._row)
            for name, channel in (("lat", "latitude"), ("lon", "longitude")):
                try:
                    self._row[channel] = float(attributes.get(name, "nan"))
                except ValueError:
                    self.unreadable += 1

    def _in_point(self, local: str) -> None:
        row = self._row
        if row is None:
            return
        if local == "time":
            self._text, self._put = [], lambda text: row.__setitem__("time", self._instant(text))
        elif local in _CHANNELS:
            channel = _CHANNELS[local]
            self._text, self._put = [], lambda text: row.__setitem__(channel, float(text))

    def _instant(self, text: str) -> float:
        moment = datetime.fromisoformat(text)
        if moment.tzinfo is None:
            self.without_zone = True
            moment = moment.replace(tzinfo=UTC)
        return moment.timestamp()


def _column(rows: list[dict[str, float]], name: str) -> np.ndarray:
    return np.array([row.get(name, np.nan) for row in rows], float)


def _moves(rows: list[dict[str, float]]) -> bool:
    return len({(row.get("latitude"), row.get("longitude")) for row in rows[:1000]}) > 2


def _stretches(tracks: list[_Track]) -> list[Stretch]:
    """One stretch for each track, if any track says its type."""
    if not any(track.sport for track in tracks):
        return []
    times = [[row["time"] for row in track.rows if "time" in row] for track in tracks]
    return [
        Stretch(min(instants), max(instants) + 1, track.sport)
        for track, instants in zip(tracks, times, strict=True)
        if instants
    ]
