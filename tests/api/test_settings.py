import pytest

from tests.builders import send

pytestmark = pytest.mark.django_db

USUAL = {"measure": "trimp", "acute_days": 7, "chronic_days": 28, "slow_days": 45, "fast_days": 15}


def test_measure_and_spans_are_shown(signed_in):
    assert signed_in.get("/api/settings").json() == USUAL


def test_what_is_left_out_stays_as_it_is(signed_in, ana):
    answer = send(signed_in, "PATCH", "/api/settings", {"measure": "zones", "acute_days": 5})
    assert answer.json() == USUAL | {"measure": "zones", "acute_days": 5}
    ana.refresh_from_db()
    assert (ana.measure, ana.acute_days, ana.chronic_days) == ("zones", 5, 28)


def test_other_spans_have_the_trend_worked_out_anew(signed_in, ana):
    before = ana.log_revision
    send(signed_in, "PATCH", "/api/settings", {"chronic_days": 42})
    ana.refresh_from_db()
    assert ana.log_revision == before + 1


@pytest.mark.parametrize(
    "change",
    [{"measure": "points"}, {"acute_days": 30}, {"chronic_days": 900, "measure": "zones"}, {"colour": "red"}],
)
def test_what_cannot_be_is_refused_whole(signed_in, ana, change):
    assert send(signed_in, "PATCH", "/api/settings", change).status_code == 422
    assert signed_in.get("/api/settings").json() == USUAL
