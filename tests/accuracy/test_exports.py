import csv
import io

import numpy as np
import pytest

from accuracy.core.agreement.pair_agreement import UNITS
from accuracy.services.exports import column_of, file_name
from tests.accuracy.pair_builders import athlete_with_physiology, kept_pair, shown_profile, work
from tests.builders import athlete, sensor

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(client):
    owner = athlete_with_physiology(athlete())
    client.force_login(owner.user)
    return owner


def rows(response):
    assert response.status_code == 200
    return list(csv.DictReader(io.StringIO(response.content.decode())))


def of_cell(client, pair, ending):
    return client.get(
        f"/sensors/{pair.tested.sensor_id}/activities/{pair.part.activity_id}/agreement.{ending}"
    )


def test_a_pair_is_handed_out_second_by_second_with_units_in_the_header(client, ana):
    tested = work() - 10
    tested[3] = np.nan
    made = kept_pair(ana, tested=tested, flags=[[2, 4, "spike"], [3, 4, "drop_out"]])
    found = rows(client.get(f"/sensors/pairs/{made.pk}/pair.csv"))
    assert list(found[0]) == [
        "second",
        "reference_bpm",
        "tested_bpm",
        "difference_bpm",
        "reference_flags",
        "tested_flags",
    ]
    assert len(found) == 600
    assert [found[0][name] for name in ("second", "reference_bpm", "tested_bpm", "difference_bpm")] == [
        "0",
        "130.0",
        "120.0",
        "-10.0",
    ]
    assert (found[2]["tested_flags"], found[3]["tested_flags"]) == ("spike", "spike drop_out")


def test_a_second_that_is_not_common_is_empty_not_zero(client, ana):
    tested = work() - 10
    tested[3] = np.nan
    made = kept_pair(ana, tested=tested)
    third = rows(client.get(f"/sensors/pairs/{made.pk}/pair.csv"))[3]
    assert [third[name] for name in ("reference_bpm", "tested_bpm", "difference_bpm")] == ["", "", ""]


def test_all_figures_of_a_pair_come_with_units_at_every_epoch(client, ana):
    figures = client.get(f"/sensors/pairs/{kept_pair(ana).pk}/pair.json").json()
    assert set(figures["by_epoch_seconds"]) == {"1", "5", "30", "60"}
    assert figures["by_epoch_seconds"]["5"]["bias"] == pytest.approx(-10)
    assert set(figures["by_epoch_seconds"]["5"]) == set(figures["units"]["agreement"])
    assert figures["units"]["agreement"]["bias"] == "bpm"
    assert figures["protocol"]["reference"]["name"] == "strap"
    assert figures["protocol"]["difference"] == "tested minus reference"
    assert figures["protocol"]["maximum_heart_rate_bpm"] == 190


def test_a_pair_without_common_seconds_has_the_same_keys(client, ana):
    full = client.get(f"/sensors/pairs/{kept_pair(ana).pk}/pair.json").json()
    bare = kept_pair(ana, tested=np.full(600, np.nan), day=1)
    empty = client.get(f"/sensors/pairs/{bare.pk}/pair.json").json()
    assert set(empty) == set(full)
    assert empty["by_epoch_seconds"] == {}


def test_pairs_are_handed_out_one_a_row_oldest_first(client, ana):
    made = [kept_pair(ana, tested=work() - bias, day=day) for day, bias in enumerate((4, 6))]
    kept_pair(ana, tested=work() - 30, day=5, usable=False)
    found = rows(of_cell(client, made[0], "csv"))
    assert [row["day"] for row in found] == ["2026-03-02", "2026-03-03", "2026-03-07"]
    assert [float(row["bias_bpm"]) for row in found] == [-4, -6, -30]
    assert [row["usable"] for row in found] == ["True", "True", "False"]
    assert float(found[0]["load_difference_percent"]) < 0
    assert found[0]["remarks"] == "Reference: 9 s cut (no reading)."


def test_every_figure_has_a_column_that_names_its_unit(client, ana):
    header = set(rows(of_cell(client, kept_pair(ana), "csv"))[0])
    assert {column_of(name, unit) for name, unit in UNITS.items()} <= header
    for name, unit in UNITS.items():
        if unit == "bpm":
            assert column_of(name, unit).endswith("_bpm")


def test_a_name_that_looks_like_a_formula_is_kept_from_being_one(client, ana):
    sensor(ana, "=1+1")
    assert rows(of_cell(client, kept_pair(ana), "csv"))[0]["tested"] == "'=1+1"


def test_agreement_over_sessions_comes_with_units_and_intervals(client, ana):
    made = [kept_pair(ana, tested=work() - bias, day=day) for day, bias in enumerate((4, 6, 8))]
    shown_profile(ana, made[0])
    figures = of_cell(client, made[0], "json").json()
    bias = figures["by_epoch_seconds"]["5"]["bias"]
    assert bias["value"] == pytest.approx(-6)
    assert bias["low"] < -6 < bias["high"]
    assert figures["units"]["bias"] == "bpm"
    assert [pair["agreement"]["bias"] for pair in figures["pairs"]] == pytest.approx([-4, -6, -8])
    assert any(line["value"].startswith("1; 45") for line in figures["study_summary"])


def test_before_anything_was_learned_the_pairs_are_handed_out(client, ana):
    made = kept_pair(ana)
    figures = of_cell(client, made, "json").json()
    assert (figures["by_epoch_seconds"], len(figures["pairs"])) == ({}, 1)


def test_files_are_named_plainly(client, ana):
    made = kept_pair(ana)
    handed = client.get(f"/sensors/pairs/{made.pk}/pair.csv")["Content-Disposition"]
    assert handed == 'attachment; filename="pair_2026-03-02_0630_run_wrist.csv"'
    assert of_cell(client, made, "json")["Content-Disposition"] == (
        'attachment; filename="agreement_wrist_run.json"'
    )


@pytest.mark.parametrize("name", ['a"b', "../../x", "a\r\nb", "Pulsuhr č. 2"])
def test_no_name_of_a_sensor_escapes_from_the_name_of_a_file(name):
    assert set(file_name("pair", name, ending="csv")) <= set("abcdefghijklmnopqrstuvwxyz0123456789_-.")


def test_the_api_gives_all_figures_of_one_pair(client, ana):
    made = kept_pair(ana)
    listed = client.get("/api/pairs", {"from": "2026-03-01", "to": "2026-03-31"}).json()
    assert [one["id"] for one in listed] == [made.pk]
    figures = client.get(f"/api/pairs/{made.pk}").json()
    assert figures == client.get(f"/sensors/pairs/{made.pk}/pair.json").json()


def test_the_api_does_not_find_a_pair_of_others(client, ana):
    theirs = kept_pair(athlete_with_physiology(athlete("bo")))
    assert client.get(f"/api/pairs/{theirs.pk}").status_code == 404
