from datetime import timedelta

import numpy as np
import pytest
from django.test import Client

from tests.builders import MORNING, athlete, estimate, intensity, part
from trainlog.load.draws import standard_normals
from trainlog.models import UnknownDay
from trainlog.services.trend_store import keep_trend

pytestmark = pytest.mark.django_db

MONDAY = MORNING.date()


@pytest.fixture
def ana():
    owner = athlete("ana")
    owner.current_source = "fit"
    owner.save()
    return owner


@pytest.fixture
def client(ana):
    """Someone signed in."""
    signed_in = Client()
    signed_in.force_login(ana.user)
    return signed_in


def day(offset):
    return (MONDAY + timedelta(days=offset)).isoformat()


def trained(owner, *offsets, load=100.0, measure="trimp"):
    for offset in offsets:
        estimate(
            part(owner, MORNING + timedelta(days=offset)),
            load * np.exp(0.1 * standard_normals(f"{offset}")),
            measure=measure,
        )
    keep_trend(owner, "fit")


def test_the_trend_answers_each_day_with_its_figures(client, ana):
    trained(ana, 0, 2)
    answer = client.get(f"/api/trend?from={day(0)}&to={day(8)}").json()
    assert (answer["measure"], answer["measure_in_words"]) == ("trimp", "training impulse (Banister)")
    assert [answer[f"{name}_days"] for name in ("acute", "chronic", "slow", "fast")] == [7, 28, 45, 15]
    assert [one["day"] for one in answer["days"]] == [day(offset) for offset in range(9)]
    first, last = answer["days"][0], answer["days"][6]
    assert first["acute"] == first["load"] == first["week"]
    assert first["monotony"] is None
    assert last["load"] == {"low": 0, "median": 0, "high": 0}
    assert last["week"]["median"] == pytest.approx(200, rel=0.02)
    assert last["monotony"]["low"] < last["monotony"]["high"]
    assert last["net_response"]["median"] < last["slow"]["median"]


def test_the_trend_of_a_measure_is_asked_for_by_name(client, ana):
    trained(ana, 0)
    trained(ana, 1, load=300.0, measure="session_rpe")
    answer = client.get(f"/api/trend?from={day(1)}&to={day(1)}&measure=session_rpe").json()
    assert answer["measure"] == "session_rpe"
    assert answer["days"][0]["load"]["median"] == pytest.approx(300, rel=0.01)


def test_a_day_that_is_drawn_says_so(client, ana):
    trained(ana, 0, 2)
    UnknownDay.objects.create(owner=ana, day=MONDAY + timedelta(days=1))
    keep_trend(ana, "fit")
    days = client.get(f"/api/trend?from={day(0)}&to={day(2)}").json()["days"]
    assert [one["unknown"] for one in days] == [False, True, False]


def test_an_empty_log_has_no_days(client):
    assert client.get("/api/trend").json()["days"] == []


def test_a_block_is_told_as_a_week_is(client, ana):
    trained(ana, -9, -2, 0, 2, 9)
    block = client.get(f"/api/blocks?from={day(0)}&to={day(9)}").json()
    assert (block["first"], block["last"], block["measure"]) == (day(0), day(9), "trimp")
    assert block["load"]["median"] == pytest.approx(300, rel=0.02)
    assert (block["before_first"], block["before_last"]) == (day(-10), day(-1))
    assert block["against_before"] is None
    assert (block["parts"], block["hours"], block["stale_parts"]) == (3, 3, 0)
    assert block["share_by_confidence"] == {"fair": pytest.approx(100)}
    assert block["minutes_in_bands"] is None
    longer = client.get(f"/api/blocks?from={day(0)}&to={day(8)}").json()
    assert longer["against_before"]["per_cent_likely_higher"] == 50


def test_a_week_and_a_block_give_shares_by_confidence_and_minutes_in_bands(client, ana):
    trained(ana, 0)
    intensity(part(ana, MORNING + timedelta(days=1)), bands=[12] * 5, source="fit")
    for address in (f"/api/weeks/{day(0)}", f"/api/blocks?from={day(0)}&to={day(6)}"):
        answer = client.get(address).json()
        assert answer["measure_in_words"] == "training impulse (Banister)"
        assert answer["share_by_confidence"] == {"fair": pytest.approx(100)}
        assert answer["minutes_in_bands"][0] == {"band": "very light", "low": 12, "median": 12, "high": 12}
        assert answer["minutes_in_bands_of_maximum"][4]["median"] == 12


@pytest.mark.parametrize(
    "address",
    [
        "/api/trend?measure=steps",
        "/api/trend?from=2026-03-09&to=2026-03-02",
        "/api/trend?from=2020-03-09&to=2026-03-02",
        "/api/blocks",
        "/api/blocks?from=2026-03-09&to=2026-03-02",
        "/api/blocks?from=0001-01-01&to=2026-03-02",
        "/api/blocks?from=2026-03-09&to=9999-01-01",
    ],
)
def test_what_makes_no_sense_is_refused_with_a_reason(client, address):
    answer = client.get(address)
    assert answer.status_code == 422
    assert answer.json()["detail"]
