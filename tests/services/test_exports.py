import csv
import io
from datetime import date, timedelta

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from tests.builders import MORNING, athlete, csv_file, estimate, imported, part, sensor
from trainlog.models import Part
from trainlog.services import exports
from trainlog.services.check_in import save_check_in
from trainlog.services.exports import TABLES, csv_pieces, parquet_pieces
from trainlog.services.lift_sets import add_set
from trainlog.services.tags import describe_workout

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


def from_csv(owner, table, first=None, last=None):
    text = b"".join(csv_pieces(owner, table, first, last)).decode()
    return list(csv.DictReader(io.StringIO(text)))


def from_parquet(owner, table, first=None, last=None):
    return pq.read_table(pa.BufferReader(b"".join(parquet_pieces(owner, table, first, last))))


@pytest.fixture
def full(ana):
    sensor(ana, "left wrist", source_key="csv:watch")
    run = Part.objects.get(workout=imported(ana, csv_file(device="watch")).workout)
    run.owner = ana
    estimate(run, 80.0, reason="=1+1")
    describe_workout(run.workout, note="-5 degrees, “cold”", tags=["hot", "gym"])
    lifted = part(ana, MORNING + timedelta(days=1), 60, activity="lifting", session_rpe=7)
    add_set(lifted, {"exercise": "@squat", "sets": 3, "repetitions": 5, "kilograms": 100.0})
    add_set(lifted, {"exercise": "pull-up", "repetitions": 6})
    save_check_in(ana, MORNING.date(), {"resting_rate": 51.5, "fatigue": 3, "note": "+late"})
    return ana


def test_a_part_is_a_row_with_its_load_and_what_was_said_of_it(full):
    run, lifted = from_csv(full, "workouts")
    assert list(run) == TABLES["workouts"].names
    assert (run["start"], run["end"], run["day"]) == (
        "2026-03-02T06:30:00Z",
        "2026-03-02T06:40:00Z",
        "2026-03-02",
    )
    assert (run["activity"], run["family"], run["minutes"]) == ("run", "steady", "10")
    assert (run["load_low"], run["load_median"], run["load_high"], run["load_raw"]) == ("80",) * 4
    assert (run["measure"], run["basis"], run["confidence"]) == ("trimp", "corrected", "firm")
    assert (run["tags"], run["sensors"], run["tonnage_kg"]) == ("gym, hot", "left wrist", "")
    assert (lifted["session_rpe"], lifted["load_median"], lifted["tonnage_kg"]) == ("7", "", "1500")


def test_no_text_of_a_csv_is_taken_for_a_formula(full):
    run, _ = from_csv(full, "workouts")
    assert (run["note"], run["reason"]) == ("'-5 degrees, “cold”", "'=1+1")
    assert from_csv(full, "sets")[0]["exercise"] == "'@squat"
    assert from_csv(full, "check-ins")[0]["note"] == "'+late"


def test_parquet_holds_texts_as_they_are_and_figures_with_types_and_units(full):
    table = from_parquet(full, "workouts")
    run = table.to_pylist()[0]
    assert (run["note"], run["start"], run["day"]) == ("-5 degrees, “cold”", MORNING, date(2026, 3, 2))
    assert table.schema.field("load_median").type == pa.float64()
    assert table.schema.field("minutes").metadata == {b"unit": b"min"}
    assert table.schema.field("tonnage_kg").metadata[b"unit"] == b"kg"


@pytest.mark.parametrize("table", TABLES)
def test_both_kinds_of_file_hold_the_same_rows(full, table):
    flat, typed = from_csv(full, table), from_parquet(full, table)
    assert typed.column_names == list(flat[0])
    for row, exact in zip(flat, typed.to_pylist(), strict=True):
        for name, cell in row.items():
            value = exact[name]
            if isinstance(value, float):
                assert float(cell) == pytest.approx(value)
            elif value is None:
                assert cell == ""
            elif isinstance(value, int):
                assert int(cell) == value


@pytest.mark.parametrize("table", TABLES)
def test_an_empty_table_still_has_its_columns(ana, table):
    assert from_csv(ana, table) == []
    assert from_parquet(ana, table).schema.names == TABLES[table].names


def test_days_are_chosen_both_ends_included(ana):
    for day in range(4):
        part(ana, MORNING + timedelta(days=day))
    days = [row["day"] for row in from_csv(ana, "workouts", date(2026, 3, 3), date(2026, 3, 4))]
    assert days == ["2026-03-03", "2026-03-04"]
    assert len(from_csv(ana, "workouts", None, date(2026, 3, 3))) == 2


def test_a_load_that_is_nothing_has_no_half_width(ana):
    estimate(part(ana), 0.0)
    assert from_csv(ana, "workouts")[0]["sensor_half_width"] == ""


def test_nothing_of_another_athlete_is_handed_out(full):
    bo = athlete("bo")
    assert [from_csv(bo, table) for table in TABLES] == [[], [], []]


def test_a_long_log_is_handed_out_in_pieces(ana, monkeypatch, django_assert_max_num_queries):
    for day in range(7):
        part(ana, MORNING + timedelta(days=day))
    monkeypatch.setattr(exports, "ROWS_AT_ONCE", 3)
    pieces = list(csv_pieces(ana, "workouts", None, None))
    assert [piece.count(b"\n") for piece in pieces] == [1, 3, 3, 1]
    assert from_parquet(ana, "workouts").num_rows == 7
    monkeypatch.setattr(exports, "ROWS_AT_ONCE", 500)
    with django_assert_max_num_queries(5):
        from_csv(ana, "workouts")
