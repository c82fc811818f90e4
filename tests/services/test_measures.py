import pytest

from tests import builders
from trainlog.models import Measure
from trainlog.services.measures import in_every_measure

pytestmark = pytest.mark.django_db


def test_a_parts_measures_stand_side_by_side_in_their_order():
    ana = builders.athlete()
    part = builders.part(ana)
    for measure in (Measure.SESSION_RPE, Measure.TRIMP, Measure.ZONES):
        builders.estimate(part, 100.0, measure=measure)
    found = in_every_measure(ana, [part])[part.pk]
    assert [one.measure for one in found] == [Measure.TRIMP, Measure.ZONES, Measure.SESSION_RPE]


def test_estimates_that_are_not_on_show_are_left_out():
    ana = builders.athlete()
    part = builders.part(ana)
    builders.estimate(part, 100.0, source="about to come")
    assert in_every_measure(ana, [part]) == {}


def test_all_parts_take_one_query(django_assert_num_queries):
    ana = builders.athlete()
    parts = [builders.part(ana), builders.part(ana, builders.MORNING.replace(hour=12))]
    for part in parts:
        builders.estimate(part, 100.0)
    with django_assert_num_queries(1):
        assert set(in_every_measure(ana, parts)) == {part.pk for part in parts}
