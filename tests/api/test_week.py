from datetime import date, timedelta

import numpy as np
import pytest

from tests.builders import MORNING, estimate, part
from trainlog.load.draws import DRAWS, standard_normals
from trainlog.models import Basis

pytestmark = pytest.mark.django_db

DAY = MORNING.date().isoformat()


def test_a_week_shows_its_sum_and_how_it_stands_against_the_last(signed_in, ana):
    estimate(part(ana, MORNING - timedelta(days=7)), 50, basis=Basis.MEASURED)
    estimate(part(ana, MORNING), 60, basis=Basis.MEASURED)
    estimate(part(ana, MORNING + timedelta(days=2), session_rpe=5), 20, basis=Basis.REPORTED)
    week = signed_in.get("/api/weeks/2026-03-05").json()
    assert (week["monday"], week["load"]["median"], week["confidence"]) == (DAY, 80, "firm")
    assert week["against_last"]["per_cent_likely_higher"] == 95
    assert week["against_last"]["change_low_per_cent"] == pytest.approx(60)
    assert week["share_by_basis"] == {"measured": 75, "reported": 25}
    assert (week["parts"], week["rated_parts"], week["session_rpe_load"], week["hours"]) == (2, 1, 300, 2)
    assert [day["load"]["median"] if day["load"] else None for day in week["days"][:4]] == [
        60,
        None,
        20,
        None,
    ]


def test_a_week_stands_against_the_usual_one_and_says_how_many_weeks_that_is(signed_in, ana):
    for weeks in (1, 2):
        estimate(part(ana, MORNING - timedelta(days=7 * weeks)), 50)
    estimate(part(ana, MORNING), 60)
    usual = signed_in.get(f"/api/weeks/{DAY}").json()["against_usual"]
    assert (usual["weeks"], usual["per_cent_likely_higher"]) == (2, 95)
    assert usual["change_low_per_cent"] == pytest.approx(20)


def test_a_week_says_which_parts_make_its_doubt(signed_in, ana):
    loose = part(ana, MORNING, activity="lifting")
    estimate(loose, 100 + 20 * standard_normals("loose"))
    estimate(part(ana, MORNING + timedelta(days=1)), 100)
    doubt = signed_in.get(f"/api/weeks/{DAY}").json()["main_doubt"]
    (one,) = doubt["parts"]
    assert (one["part"], one["workout"], one["day"]) == (loose.pk, loose.workout_id, DAY)
    assert (one["activity"], one["share_per_cent"]) == ("lifting", pytest.approx(100))
    assert doubt["sensor_half_width"] == pytest.approx(0.128, abs=0.01)
    assert doubt["sensor_half_width_with_strap"] == pytest.approx(0, abs=1e-6)


def test_a_week_counts_its_parts_by_family(signed_in, ana):
    part(ana, MORNING, 90)
    assert signed_in.get(f"/api/weeks/{DAY}").json()["families"] == [
        {"family": "steady", "parts": 1, "hours": 1.5}
    ]


def test_an_empty_week_has_no_load(signed_in):
    week = signed_in.get("/api/weeks/2026-03-05").json()
    assert (week["load"], week["against_last"], week["parts"]) == (None, None, 0)
    assert (week["against_usual"], week["main_doubt"], week["families"]) == (None, None, [])
    assert [date.fromisoformat(day["day"]).weekday() for day in week["days"]] == list(range(7))


@pytest.mark.parametrize("day", ["2026-02-30", "0001-01-01", "9999-12-31", "monday"])
def test_a_day_that_has_no_week_is_refused(signed_in, day):
    assert signed_in.get(f"/api/weeks/{day}").status_code == 422


@pytest.mark.parametrize(
    "load",
    [np.zeros(DRAWS), np.maximum(standard_normals("an easy walk") - 0.5, 0)],
    ids=["none", "likely none"],
)
def test_a_week_whose_load_is_nothing_is_shown_like_any_other(signed_in, ana, load):
    easy = part(ana)
    estimate(easy, load)
    day = MORNING.date()
    answer = signed_in.get(f"/api/weeks/{day}").json()
    assert (answer["load"]["median"], answer["load"]["sensor_half_width"], answer["main_doubt"]) == (
        0,
        None,
        None,
    )
    for page in (
        f"/week/{day}",
        f"/trend?from={day}&to={day}",
        f"/workouts/{easy.workout_id}",
        "/",
        "/recovery",
    ):
        assert signed_in.get(page).status_code == 200
