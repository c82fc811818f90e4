"""What a log teaches: which sessions are evidence, and how often each counts."""

from datetime import timedelta

import pytest

from accuracy.models import Pair
from accuracy.services.knowledge import gather, physiology_by_day
from accuracy.services.learn import learn
from tests import builders
from tests.accuracy.session_builders import FIRST_DAY, file_of, session
from trainlog.models import Sensor
from trainlog.services.sensors import save_sensor

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana():
    return builders.equipped_athlete("ana", strap="Strap", wrist="Wrist")


def test_gathering_the_evidence_fetches_no_trace(ana, django_assert_max_num_queries):
    for day, rate in enumerate((140, 150)):
        session(ana, day, strap=rate, wrist=rate - 15)
    learn(ana)
    with django_assert_max_num_queries(6) as queries:
        gather(ana, physiology_by_day(ana))
    fetched = " ".join(query["sql"].split(" FROM ")[0] for query in queries.captured_queries)
    assert "trace_blob" not in fetched
    assert "reference_trace" not in fetched


def with_spare_strap(athlete):
    save_sensor(athlete, Sensor(name="Spare", site="chest", principle="electrical", source_key="csv:spare"))


def evidence_of(athlete):
    learn(athlete)
    return gather(athlete, physiology_by_day(athlete)).wrist


def test_a_session_worn_with_two_straps_teaches_once(ana):
    with_spare_strap(ana)
    session(ana, 0, strap=140, spare=141, wrist=128)
    assert len(evidence_of(ana)) == 1
    assert Pair.objects.of(ana).filter(usable=True).count() == 2


def test_parts_of_one_workout_are_held_out_together_even_with_a_strap_each(ana):
    with_spare_strap(ana)
    later = FIRST_DAY + timedelta(minutes=40)
    both, first, second = ("weightlifting", "running"), ("weightlifting",), ("running",)
    for start, minutes, bpm, device, sports in (
        (FIRST_DAY, 80, 128, "wrist", both),
        (FIRST_DAY, 40, 140, "strap", first),
        (later, 40, 140, "spare", second),
    ):
        content = file_of(start, minutes, bpm=bpm, device=device, sports=sports)
        builders.imported(ana, content, f"{device}.csv")
    pairs = evidence_of(ana)
    assert len({pair.session.cell.activity for pair in pairs}) == 2
    assert len({pair.workout for pair in pairs}) == 1
