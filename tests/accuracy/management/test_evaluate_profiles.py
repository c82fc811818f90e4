"""The evaluation that is printed, on the study folder and on a log."""

import io
import json
import os
import re
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from tests import builders

ROOT = Path(__file__).resolve().parents[3]
SHARED = Path(os.environ.get("TRAINLOG_SHARED", ROOT.parent / "shared"))
STUDY = SHARED / "data" / "one_athlete_many_sessions"

needs_study = pytest.mark.skipif(not STUDY.exists(), reason=f"the study folder {STUDY} is absent")


@pytest.fixture(scope="module")
def evaluated(tmp_path_factory):
    """What one evaluation of the study prints, and the folder of the files that it was asked for."""
    folder, out = tmp_path_factory.mktemp("evaluated"), io.StringIO()
    files = {kind: folder / f"figures.{kind}" for kind in ("csv", "json")}
    picture = folder / "calibration.svg"
    call_command("evaluate_profiles", study=STUDY, **files, picture=picture, stdout=out, skip_checks=True)
    return out.getvalue(), folder


@pytest.fixture(scope="module")
def printed(evaluated):
    return evaluated[0]


@needs_study
def test_every_session_of_the_study_is_in_the_table_or_said_to_be_left_out(printed):
    kept = re.findall(r"^ *(\d+) [a-z]", printed, re.MULTILINE)
    left_out = re.findall(r"Left out: session (\d+)", printed)
    assert sorted(map(int, kept + left_out)) == list(range(1, 20))


@needs_study
def test_the_table_says_that_the_second_sensor_is_optical_and_how_little_it_proves(printed):
    assert "OPTICAL" in printed
    assert "prove little" in printed


def of_activity(printed, activity):
    line = next(line for line in printed.splitlines() if line.startswith(f"{activity}: "))
    return (*map(float, re.findall(r"([\d.]+)%", line)), line)


@needs_study
def test_what_is_published_errs_less_than_half_as_much_as_the_wrist_over_the_study(printed):
    """Of the second sensor's load; 43.1 and 19.0% when this was written."""
    over_all = printed.split("method ")[-1].splitlines()
    errors = {
        method: float(re.search(r"^\S.*?  +\d+ +([\d.]+)", line).group(1))
        for method in ("as it stands", "published")
        for line in over_all
        if line.startswith(method)
    }
    assert errors["published"] < 0.5 * errors["as it stands"]


@needs_study
def test_where_the_correction_gains_nothing_the_table_says_so(printed):
    raw, published, line = of_activity(printed, "road cycling")
    assert published > raw
    assert "NO GAIN" in line
    raw, published, line = of_activity(printed, "tempo run")
    assert published < raw
    assert "NO GAIN" not in line


@needs_study
def test_figures_and_picture_are_written_where_asked_for(evaluated):
    _, folder = evaluated
    figures = json.loads((folder / "figures.json").read_text())
    assert "absolute error" in (folder / "figures.csv").read_text().splitlines()[0]
    assert {row["method"] for row in figures} >= {"as it stands", "published"}
    assert (folder / "calibration.svg").read_text().startswith("<svg")


def test_simulated_athletes_are_learned_from_and_held_to_the_bars():
    out = io.StringIO()
    call_command("evaluate_profiles", simulated=1, pairs="2", processes=1, stdout=out, skip_checks=True)
    assert "narrow setting, 1 athletes" in out.getvalue()
    assert "independent draws" in out.getvalue()
    assert re.search(r"broad, 2 pairs: coverage overall, %: [\d.]+", out.getvalue())


def test_a_folder_without_the_study_is_refused(tmp_path):
    with pytest.raises(CommandError, match=r"holds no native_streams\.csv\.gz"):
        call_command("evaluate_profiles", study=tmp_path, skip_checks=True)


@pytest.mark.django_db
def test_a_log_without_two_pairs_has_nothing_to_hold_out():
    builders.athlete("ana")
    with pytest.raises(CommandError, match="Fewer than two usable pairs"):
        call_command("evaluate_profiles", user="ana", skip_checks=True)


@pytest.mark.django_db
def test_a_log_that_does_not_exist_is_named():
    with pytest.raises(CommandError, match="nobody"):
        call_command("evaluate_profiles", user="nobody", skip_checks=True)
