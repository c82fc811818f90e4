"""The evaluation that is printed, on the study folder and on a log."""

import io
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
def printed():
    out = io.StringIO()
    call_command("evaluate_profiles", study=STUDY, stdout=out, skip_checks=True)
    return out.getvalue()


@needs_study
def test_every_session_of_the_study_is_in_the_table_or_said_to_be_left_out(printed):
    kept = re.findall(r"^(\d+) +[a-z]", printed, re.MULTILINE)
    left_out = re.findall(r"Left out: session (\d+)", printed)
    assert sorted(map(int, kept + left_out)) == list(range(1, 20))


@needs_study
def test_the_table_says_that_the_second_sensor_is_optical_and_how_little_it_proves(printed):
    assert "OPTICAL" in printed
    assert "prove little" in printed


@needs_study
def test_the_correction_is_nearer_than_raw_over_the_study_and_narrower_than_the_prior(printed):
    total = printed.splitlines()[-1]
    raw, corrected, width, prior = (
        float(re.search(pattern, total).group(1))
        for pattern in (r"raw +([\d.]+)%", r"corrected +([\d.]+)%", r"width +(\d+)%", r"prior (\d+)%")
    )
    assert corrected < raw
    assert width < prior


@needs_study
def test_where_the_correction_gains_nothing_the_table_says_so(printed):
    totals = printed.split("Mean absolute error")[1].splitlines()
    cycling = next(line for line in totals if line.startswith("indoor cycling"))
    raw, corrected = map(float, re.search(r"raw +([\d.]+)%, corrected +([\d.]+)%", cycling).groups())
    assert corrected > raw
    assert "NO GAIN" in cycling


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
