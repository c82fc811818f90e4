"""What a report holds, and that each part of it says what the log does."""

import math
import tomllib
from datetime import timedelta
from pathlib import Path

import altair as alt
import numpy as np
import pytest

from accuracy.report.collect import OTHER_REFERENCE
from accuracy.report.gather import gather
from accuracy.services.method import METHOD_VERSION
from tests.accuracy.pair_builders import athlete_with_physiology, kept_pair, work
from tests.builders import MORNING, activity_of, athlete, sensor, strap
from trainlog.models import Athlete, Sensor

pytestmark = pytest.mark.django_db

TITLES = [
    "What was tested, and how",
    "Sessions",
    "Agreement of heart rate",
    "By kind of work",
    "By intensity and direction",
    "Start of sessions",
    "Faults",
    "Load and recovery",
    "Correction and its calibration",
    "Sessions one by one",
    "What published recommendations ask, and what this test lacks",
    "Methods",
]


def lower(reference, by):
    return reference - by


@pytest.fixture
def owner():
    return athlete_with_physiology(athlete())


@pytest.fixture(scope="module")
def log_of_four(rows_of_the_module):
    """Key of an athlete with four runs, read 10, 8, 6 and 4 bpm low."""
    runner = athlete_with_physiology(athlete("runner"))
    for day, by in enumerate((10, 8, 6, 4)):
        kept_pair(runner, tested=lower(work(), by), day=day)
    return runner.pk


@pytest.fixture
def four(log_of_four):
    return Athlete.objects.get(pk=log_of_four)


def report(owner, **changes):
    sensors = [one for one in Sensor.objects.of(owner) if not one.is_reference]
    return gather(owner, sensors, **({"anonymised": False} | changes))


def flat(sections):
    for one in sections:
        yield one
        yield from flat(one.sections)


def tables(document):
    return {table.name: table for one in flat(document.sections) for table in one.tables}


def figures(document):
    return {figure.name: figure for one in flat(document.sections) for figure in one.figures}


def column(table, key):
    place = [one.key for one in table.columns].index(key)
    return [row[place] for row in table.rows]


def test_the_sections_read_like_the_results_of_a_paper(four):
    assert [section.title for section in report(four).sections] == TITLES


def test_the_title_says_what_against_what_and_the_subtitle_how_much(four):
    document = report(four)
    assert document.title == "wrist against a chest strap"
    assert document.subtitle == (
        "Heart rate and training load in 4 sessions of one person, 0.7 h, 2 March 2026 to 5 March 2026"
    )


def test_bias_and_limits_are_those_of_the_sessions(four):
    table = tables(report(four))["agreement"]
    rows = {row[0]: row[1:] for row in table.rows}
    assert rows["bias (mean difference)"][0] == pytest.approx(-7.0)
    # Between sessions alone: 10, 8, 6 and 4 have a standard deviation of 2.58.
    assert rows["… between sessions"][0] == pytest.approx(np.std([10, 8, 6, 4], ddof=1), rel=0.01)
    assert rows["lower limit of agreement"][0] == pytest.approx(-7 - 1.96 * 2.582, rel=0.01)
    assert rows["bias (mean difference)"][1] < -7.0 < rows["bias (mean difference)"][2]


def test_the_summary_begins_with_the_sample(four):
    assert (
        report(four)
        .summary[0]
        .startswith("wrist was compared with a chest strap in 4 sessions of one person")
    )


def test_a_report_on_the_demos_own_log_says_that_it_is_invented(four):
    four.demo_for = athlete("ben").user
    four.save()
    assert report(four).summary[0].startswith("These recordings are invented")


def test_every_session_has_its_overlay_and_its_rows(four):
    document = report(four)
    assert [name for name in figures(document) if name.startswith("overlay")] == [
        f"overlay_session_0{number}" for number in (1, 2, 3, 4)
    ]
    assert column(tables(document)["heart_rate_by_session"], "bias_bpm") == pytest.approx([-10, -8, -6, -4])


def test_two_sessions_get_no_limits_and_no_intervals(owner):
    for day in (0, 1):
        kept_pair(owner, day=day)
    document = report(owner)
    rows = {row[0]: row for row in tables(document)["agreement"].rows}
    assert "lower limit of agreement" not in rows
    assert rows["bias (mean difference)"][2:4] == (None, None)
    assert {
        row["level"] for row in figures(document)["difference_plot"].spec["datasets"].get("intervals", [])
    } == set()
    assert "limit" not in dict(figures(document)["difference_plot"].key)


def test_one_session_makes_a_report_too(owner):
    kept_pair(owner)
    document = report(owner)
    assert [section.title for section in document.sections] == TITLES
    assert "No limits of agreement are given" in " ".join(document.summary)
    assert "No pair could be held out" in " ".join(
        p for one in flat(document.sections) for p in one.paragraphs
    )


def test_without_a_pair_the_report_says_that_it_holds_no_figure(owner):
    sensor(owner)
    document = report(owner)
    assert len(document.summary) == 1
    assert "0 sessions" in document.summary[0]
    assert figures(document) == {}


def test_without_physiology_there_is_no_load_and_no_intensity():
    owner = athlete()
    for day in range(3):
        kept_pair(owner, day=day)
    document = report(owner)
    assert "load_and_recovery" not in tables(document)
    assert "by_intensity" not in tables(document)
    assert "No training load is compared" in " ".join(document.summary)


def test_a_pair_set_aside_is_listed_with_why_and_in_no_figure(four):
    reference = work()
    reference[:400] = np.nan
    kept_pair(four, reference, work() - 90, day=9, usable=False)
    document = report(four)
    aside = tables(document)["set_aside"]
    assert column(aside, "why") == ["less than 80% of the part is common to both"]
    assert column(aside, "common_min") == pytest.approx([200 / 60])
    assert {row[0]: row[1] for row in tables(document)["agreement"].rows}[
        "bias (mean difference)"
    ] == pytest.approx(-7.0)


def test_of_two_references_of_one_part_one_counts(four):
    pair = kept_pair(four, day=9)
    other = kept_pair(four, day=10)
    other.reference.sensor = strap(four, "spare strap")
    other.reference.save()
    other.part, other.common_seconds = pair.part, pair.common_seconds - 5
    other.tested = pair.tested
    other.save()
    assert column(tables(report(four))["set_aside"], "why") == [OTHER_REFERENCE]


def test_only_the_days_asked_for_count(four):
    day = MORNING.date() + timedelta(days=1)
    document = report(four, first_day=day, last_day=day + timedelta(days=1))
    assert column(tables(document)["heart_rate_by_session"], "bias_bpm") == pytest.approx([-8, -6])


def test_held_out_errors_are_those_of_sessions_not_learned_from(real_predictions, owner):
    for day, by in enumerate((10, 8, 9)):
        kept_pair(owner, tested=lower(work(), by), day=day)
    document = report(owner)
    table = tables(document)["correction_by_session"]
    stands, low, high = (
        column(table, key)
        for key in ("as_it_stands_percent", "corrected_low_percent", "corrected_high_percent")
    )
    assert max(stands) < -5
    assert all(below < above for below, above in zip(low, high, strict=True))
    assert "of 3 held-out pairs fell from" in " ".join(document.summary)


def test_work_that_differs_has_a_row_each(four):
    for day in (10, 11, 12):
        pair = kept_pair(four, tested=work() - 25, day=day)
        pair.part.activity = activity_of(four, "lifting")
        pair.part.save()
    document = report(four)
    table = tables(document)["by_activity"]
    biases = dict(zip(column(table, "activity"), column(table, "bias_bpm"), strict=True))
    assert biases == pytest.approx({"run": -7.0, "lifting": -25.0})
    assert "It depends on the work." in " ".join(document.summary)


def test_two_sensors_get_a_section_each_and_stand_side_by_side(four):
    other = sensor(four, "other wrist")
    pair = kept_pair(four, day=20)
    pair.tested.sensor = other
    pair.tested.save()
    document = report(four)
    titles = [section.title for section in document.sections]
    assert titles == [TITLES[0], "other wrist", "wrist", "Sensors side by side", "Methods"]
    table = tables(document)["sensors_side_by_side"]
    assert (
        table.caption
        == "Figures of each sensor: other wrist over 1 session and 0.2 h and wrist over 4 sessions and 0.7 h"
    )
    assert column(table, "figure")[0] == "bias"
    assert column(table, "a_value")[0] == pytest.approx(-10.0)
    assert column(table, "b_value")[0] == pytest.approx(-7.0)
    assert column(table, "a_interval_low")[0] is None
    assert column(table, "b_interval_low")[0] < -7.0


def test_names_of_files_are_all_different(four):
    other = sensor(four, "other wrist")
    pair = kept_pair(four, day=20)
    pair.tested.sensor = other
    pair.tested.save()
    document = report(four)
    names = [
        *(table.name for one in flat(document.sections) for table in one.tables),
        *(table.name for table in document.data),
        *(figure.name for one in flat(document.sections) for figure in one.figures),
    ]
    assert len(set(names)) == len(names)
    assert all(name.replace("_", "").isalnum() and name == name.lower() for name in names)


def test_every_table_is_whole_and_its_columns_have_keys_of_their_own(four):
    document = report(four)
    for table in (*tables(document).values(), *document.data):
        keys = [one.key for one in table.columns]
        assert len(set(keys)) == len(keys), table.name
        assert all(len(row) == len(keys) for row in table.rows), table.name
        assert all(
            isinstance(cell, str) or cell is None or math.isfinite(cell) for row in table.rows for cell in row
        ), table.name


def test_the_data_hold_both_traces_second_by_second(four):
    traces = {table.name: table for table in report(four).data}["traces_session_02"]
    assert [one.key for one in traces.columns] == ["second", "reference_bpm", "tested_bpm"]
    assert len(traces.rows) == 600
    second, reference, tested = traces.rows[30]
    assert second == 30
    assert tested == pytest.approx(reference - 8, abs=0.11)


def test_every_figure_is_a_valid_spec_with_a_key_and_the_same_facts_in_words(four):
    for name, figure in figures(report(four)).items():
        alt.LayerChart.from_dict(dict(figure.spec))
        styles = {layer["mark"]["style"] for layer in figure.spec["layer"]}
        assert {style for style, _ in figure.key} <= styles, name
        assert any(sign.isdigit() for sign in figure.alternative), name


def test_an_overlay_stays_small_however_long_the_session(owner):
    long = work(3 * 3600)
    kept_pair(owner, long, long - 10)
    spec = figures(report(owner))["overlay_session_01"].spec
    assert len(spec["datasets"]["traces"]) <= 400


def test_it_says_what_the_recommendations_ask_and_what_is_missing(four):
    table = tables(report(four))["recommendations"]
    given = {(row[0], row[1]): (row[3], row[4]) for row in table.rows}
    assert given["age", "INTERLIVE"] == ("not known", "no")
    assert given["participants", "INTERLIVE"] == ("1; 45 or more are asked for", "no")
    assert given["paired values", "INTERLIVE"] == ("480 in 4 sessions", "yes")


def test_nothing_in_the_prose_claims_more_than_was_found(four):
    prose = " ".join(
        [*report(four).summary, *(p for one in flat(report(four).sections) for p in one.paragraphs)]
    ).lower()
    assert not [word for word in ("accura", "valid", "prove", "reliab", "excellent") if word in prose]


def test_the_colophon_names_the_versions_that_somebody_else_needs(four):
    project = tomllib.loads((Path(__file__).parents[3] / "pyproject.toml").read_text())["project"]
    assert f"Trainlog {project['version']}, method {METHOD_VERSION}." in report(four).colophon


def test_the_same_log_gives_the_same_report(four):
    assert report(four) == report(four)


def test_a_report_is_about_at_least_one_sensor(owner):
    with pytest.raises(ValueError, match="at least one sensor"):
        gather(owner, [], anonymised=True)
