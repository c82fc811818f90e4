"""Processor time and memory that files made to cost either take before they are refused or read.

    .venv/bin/python -m benchmarks.hostile_files

Each is read in a process of its own. Seconds are of the processor; memory is how far the process grew
beyond holding the file and the programs, and its peak in all. Aim: below 10 s and 500 MB.
"""

from __future__ import annotations

import gzip
import io
import random
import struct
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from fixtures import fit_writer
from fixtures.fit_message_writer import BYTES, UINT8, UINT32, definition, file_id, sample
from trainlog.readers import UnreadableFile, read, unpack

NOW = datetime(2026, 3, 2, tzinfo=UTC)
UNIX = 1_772_346_600
TIME = UNIX - fit_writer.EPOCH
TRACK = b'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
TRACK_END = b"</trkseg></trk></gpx>"
POINT = '<trkpt lat="1" lon="2"><time>{}</time><extensions><hr>120</hr></extensions></trkpt>'


def iso(second: float) -> str:
    """Date of a second of the workout."""
    return datetime.fromtimestamp(UNIX + second, UTC).isoformat()


def many_fields(*, alternating: bool) -> bytes:
    """FIT messages just below the largest number of values."""
    fields = [(253, 4, UINT32), (3, 1, UINT8), *((100 + i % 100, 1, UINT8) for i in range(250))]
    defined = definition(1, 20, fields) + definition(2, 20, fields)
    rows = (
        struct.pack("<BIB", 1 + (i % 2 if alternating else 0), TIME + i, 120) + bytes(250)
        for i in range(19_700)
    )
    return file_id() + defined + b"".join(rows)


def unfinished(body: bytes) -> bytes:
    """FIT file whose header promises more than there is."""
    return struct.pack("<BBHI4sH", 14, 0x20, 2132, 2**31, b".FIT", 0) + body


def zip_bomb() -> bytes:
    """Zip of a megabyte that unpacks to a gigabyte."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        for i in range(50):
            packed.writestr(f"{i}.csv", bytes(20 * 2**20))
    return file.getvalue()


FILES: dict[str, Callable[[], bytes]] = {
    "text, 10 million lines": lambda: b"1\n" * 10_000_000,
    "text, 600,000 rows": lambda: b"".join(b"%.2f,120\n" % (UNIX + i / 4) for i in range(599_000)),
    "text, 600,000 local times": lambda: "".join(f"{iso(i / 4)[:19]},120\n" for i in range(599_000)).encode(),
    "text, four bytes a letter": lambda: "🙂,b\n".encode() + b"1772346600,120\n" * 599_000 + b"#\n" * 900,
    "text, wide first row": lambda: b"time,hr" + b",x" * 900 + b"\n" + b"1772346600,120\n" * 599_000,
    "text, quotation mark": lambda: b'time,hr\n"' + b"1772346600,120\n" * 599_000,
    "RR intervals, 600,000": lambda: (
        b"# start: 2026-03-01T06:30:00Z\n"
        + b"".join(b"%d\n" % random.Random(i).randint(100, 400) for i in range(599_000))
    ),
    "measurements, 600,000": lambda: b"".join(b"%.2f 16 48 52 03\n" % (UNIX + i / 4) for i in range(599_000)),
    "measurements, long lines": lambda: (iso(0).encode() + b" " + b"16 " * 33_000 + b"zz\n") * 300,
    "FIT, 5 million values": lambda: fit_writer.wrap(many_fields(alternating=False)),
    "FIT, 5 million values, cut short": lambda: unfinished(many_fields(alternating=False)),
    "FIT, 5 million values, alternating": lambda: fit_writer.with_wrong_checksum(
        fit_writer.wrap(many_fields(alternating=True))
    ),
    "FIT, 500,000 empty messages": lambda: unfinished(
        definition(0, 20, []) + definition(1, 20, []) + b"\0\0\1" * 160_000
    ),
    "FIT, 32 MB of zeros": lambda: unfinished(bytes(32 * 2**20 - 20)),
    "FIT, 40,000 messages of stored beats": lambda: fit_writer.wrap(
        file_id()
        + sample(TIME, 0xFF)
        + definition(3, 132, [(10, 255, BYTES), (6, 255, UINT8)])
        + (b"\3" + bytes(510)) * 40_000
    ),
    "GPX, 500,000 points": lambda: (
        TRACK + "".join(POINT.format(iso(i / 3)) for i in range(500_000)).encode() + TRACK_END
    ),
    "GPX, an element of attributes": lambda: b"<gpx " + b'a="1" ' * 5_000_000 + b"/>",
    "GPX, a million levels": lambda: b"<gpx>" + b"<a>" * 1_000_000,
    "GPX, a million tracks": lambda: b"<gpx>" + b"<trk></trk>" * 1_000_000,
    "GPX, 3 million segments": lambda: b"<gpx><trk>" + b"<trkseg></trkseg>" * 3_000_000,
    "zip, a gigabyte in a megabyte": zip_bomb,
    "zip, 5 million entries": lambda: b"PK\x03\x04" + b"PK\x01\x02" * 5_000_000,
    "gzip, 300 MB of zeros": lambda: gzip.compress(bytes(300 * 2**20)),
    "gzip, 600,000 in one": lambda: gzip.compress(b"") * 600_000,
}


def peak() -> float:
    """Most memory that this process has held since its program started, in MB (Linux)."""
    status = Path("/proc/self/status").read_text()
    return int(next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM"))) / 1024


def measure(name: str, data: bytes) -> None:
    """Read one file and print its row."""
    before, begin = peak(), time.process_time()
    try:
        files = unpack(data)
        outcome = f"read {sum(read(file.data, now=NOW).trace.seconds for file in files):,} s"
    except UnreadableFile as refused:
        outcome = refused.what
    took = time.process_time() - begin
    print(f"{name:38}{len(data) / 2**20:7.1f}{took:8.2f}{peak() - before:8.0f}{peak():8.0f}  {outcome[:70]}")


def main() -> None:
    """Measure each file in a process of its own; the file is made in another, and handed over."""
    print(f"{'file':38}{'MB':>7}{'s':>8}{'grew MB':>8}{'peak MB':>8}  outcome", flush=True)
    for name, make in FILES.items():
        command = [sys.executable, "-m", "benchmarks.hostile_files", name]
        subprocess.run(command, input=make(), check=True, stderr=subprocess.DEVNULL)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        measure(sys.argv[1], sys.stdin.buffer.read())
    else:
        main()
