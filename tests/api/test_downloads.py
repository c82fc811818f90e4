"""Traces and originals to take along: the same seconds in each form."""

import io

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from django.test import Client

from tests.builders import MORNING, csv_file, imported
from trainlog.services.second_by_second import Columns, pieces

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


def whole(answer):
    return b"".join(answer.streaming_content)


def read(kind, content):
    if kind == "csv":
        return pd.read_csv(io.BytesIO(content), parse_dates=["time"])
    table = (
        pq.read_table(io.BytesIO(content)) if kind == "parquet" else pa.ipc.open_stream(content).read_all()
    )
    return table.to_pandas()


@pytest.mark.parametrize("kind", ["csv", "parquet", "arrow"])
def test_a_recording_is_handed_out_second_by_second(signed_in, ana, kind):
    recording = imported(ana, csv_file(minutes=90, bpm=131))
    answer = signed_in.get(f"/api/v1/files/{recording.pk}/trace.{kind}")
    assert f"trace-{recording.pk}.{kind}" in answer["Content-Disposition"]
    table = read(kind, whole(answer))
    trace = recording.trace()
    assert len(table) == trace.seconds
    assert table["time"].iloc[0].to_pydatetime() == trace.start
    assert (table["time"].iloc[-1] - table["time"].iloc[0]).total_seconds() == trace.seconds - 1
    np.testing.assert_allclose(table["heart_rate_bpm"], trace.heart_rate)


@pytest.mark.parametrize("kind", ["csv", "parquet", "arrow"])
def test_what_was_not_recorded_is_empty(kind):
    rates = np.full(4000, 120.0)
    rates[10:20] = np.nan
    columns = Columns(MORNING, {"heart_rate_bpm": rates, "power_w": np.full(4000, np.nan)})
    table = read(kind, b"".join(pieces(kind, columns)))
    assert list(table) == ["time", "heart_rate_bpm", "power_w"]
    assert list(np.flatnonzero(table["heart_rate_bpm"].isna())) == list(range(10, 20))
    assert table["power_w"].isna().all()


@pytest.mark.parametrize("kind", ["csv", "parquet", "arrow"])
def test_a_recording_that_was_not_read_has_no_trace(signed_in, ana, kind):
    refused = imported(ana, b"not a recording")
    assert signed_in.get(f"/api/v1/files/{refused.pk}/trace.{kind}").status_code == 404


def test_the_original_is_handed_out_as_it_came_and_known_by_its_hash(signed_in, ana):
    recording = imported(ana, csv_file(), "a.csv")
    address = f"/api/v1/files/{recording.pk}/original"
    answer = signed_in.get(address)
    assert whole(answer) == csv_file()
    assert answer["ETag"] == f'"{recording.sha256}"'
    again = signed_in.get(address, headers={"If-None-Match": answer["ETag"]})
    assert again.status_code == 304


def test_files_are_listed_by_what_became_of_them(signed_in, ana):
    read_one, refused = imported(ana, csv_file()), imported(ana, b"not a recording", "b.csv")
    for state, one in (("read", read_one), ("refused", refused)):
        found = signed_in.get("/api/v1/files", {"state": state}).json()["results"]
        assert [row["id"] for row in found] == [one.pk]
    assert len(signed_in.get("/api/v1/files").json()["results"]) == 2


def test_nobody_is_handed_anything(ana):
    recording = imported(ana, csv_file())
    for end in ("original", "trace.csv", "trace.parquet", "trace.arrow"):
        assert Client().get(f"/api/v1/files/{recording.pk}/{end}").status_code == 401
