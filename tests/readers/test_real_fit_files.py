"""Real activity files against what an independent decoder found in them.

The files live outside the repository, in ``../shared/data/fit`` or below ``TRAINLOG_SHARED``; without
them the tests skip.
"""

import csv
import os
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from trainlog.readers import CsvColumns, Reading, UnreadableFile, read

ROOT = Path(__file__).resolve().parents[2]
FOLDER = Path(os.environ.get("TRAINLOG_SHARED", ROOT.parent / "shared")) / "data" / "fit"
INDEX = FOLDER / "index.csv"
NOW = datetime(2026, 11, 1, tzinfo=UTC)

ROWS = list(csv.DictReader(INDEX.open())) if INDEX.exists() else []
REFUSED = {
    "edge_cases/edge_03.fit": "all-day monitoring",
    "edge_cases/edge_04.fit": "device settings",
    "edge_cases/edge_05.fit": "device settings",
    "edge_cases/edge_06.fit": "weight readings",
    "edge_cases/edge_07.fit": "weight readings",
    "edge_cases/edge_08.fit": "a workout plan",
    "edge_cases/edge_09.fit": "a workout plan",
    "edge_cases/edge_10.fit": "a workout plan",
    "edge_cases/edge_11.fit": "a workout plan",
    "fit_04_nosport.fit": "no times",
    "fit_08_running.fit": "clock of the device was not set",
    "fit_09_running.fit": "clock of the device was not set",
}
"""Files of another kind, and files whose records have no usable times."""

HEART_RATE_IN_STORED_BEATS = "edge_cases/edge_19.fit"
NARROWER_WORD = {"fit_02_indoor.fit": "indoor_rowing"}

pytestmark = pytest.mark.skipif(not ROWS, reason=f"the shared activity files are not in {FOLDER}")


def outcome(name: str) -> Reading | UnreadableFile:
    try:
        return read((FOLDER / name).read_bytes(), now=NOW)
    except UnreadableFile as refused:
        return refused


def names(*, read_whole: bool) -> list[str]:
    chosen = [
        row["file"]
        for row in ROWS
        if (int(row["hr_records"]) > 0 and row["file"] not in REFUSED) == read_whole
    ]
    return [name for name in chosen if name != HEART_RATE_IN_STORED_BEATS] or [""]


@pytest.mark.parametrize("name", names(read_whole=True))
def test_heart_rate_duration_and_sport_agree_with_the_index(name):
    row = next(row for row in ROWS if row["file"] == name)
    reading = outcome(name)
    assert isinstance(reading, Reading), reading
    heart_rate = reading.trace.heart_rate
    assert (np.nanmin(heart_rate), np.nanmax(heart_rate)) == (float(row["hr_min"]), float(row["hr_max"]))
    assert reading.trace.seconds - 1 == pytest.approx(float(row["duration_s"]), abs=1)
    assert np.isfinite(heart_rate).sum() >= int(row["hr_records"])
    assert reading.segments[0].sport == NARROWER_WORD.get(name, row["sport"])
    assert ("+hr:" in reading.source_key) == (row["external_hr_sensor"] == "yes")
    assert (len(reading.trace.rr_ms) > 0) == (int(row["hrv_msgs"]) > 0)


@pytest.mark.parametrize("name", names(read_whole=False))
def test_a_file_without_usable_heart_rate_is_refused_saying_why(name):
    refused = outcome(name)
    assert isinstance(refused, UnreadableFile)
    assert REFUSED.get(name, "no heart rate") in str(refused)


def test_heart_rate_stored_as_beats_agrees_with_what_the_file_states_of_itself():
    """The session message of the file gives a maximum of 161 bpm, its records span 4,443 s."""
    reading = outcome(HEART_RATE_IN_STORED_BEATS)
    assert isinstance(reading, Reading), reading
    assert reading.trace.seconds - 1 == 4443
    assert reading.segments[0].sport == "swimming"
    assert np.nanmax(reading.trace.heart_rate) == pytest.approx(161, abs=0.5)


@pytest.mark.parametrize("name", ["fit_08_running.fit", "fit_09_running.fit"])
def test_a_start_that_the_athlete_tells_rescues_a_file_whose_clock_was_not_set(name):
    row = next((row for row in ROWS if row["file"] == name), {})
    start = datetime(2026, 3, 1, 6, 30, tzinfo=UTC)
    data = (FOLDER / name).read_bytes()
    reading = read(data, now=NOW, csv_columns=CsvColumns(start=start))
    assert reading.trace.start == start
    assert (np.nanmin(reading.trace.heart_rate), np.nanmax(reading.trace.heart_rate)) == (
        float(row["hr_min"]),
        float(row["hr_max"]),
    )
    assert [segment.sport for segment in reading.segments] == [row["sport"]]
    assert any("when you said: 2026-03-01 06:30:00" in note for note in reading.notes)


def test_every_file_is_listed_and_has_an_outcome():
    listed = {row["file"] for row in ROWS}
    assert {str(path.relative_to(FOLDER)) for path in FOLDER.rglob("*.fit")} == listed
