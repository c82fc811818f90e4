"""Which sessions of which sensors are compared, and what of them counts."""

from datetime import timedelta

import numpy as np
import pytest

from accuracy.models import Pair
from accuracy.services.sensor_comparison import (
    WHOLE,
    Way,
    Wish,
    compare,
    references,
    sensors_with_pairs,
)
from tests.accuracy.comparison_builders import worn
from tests.accuracy.pair_builders import athlete_with_physiology, work
from tests.builders import MORNING, activity_of, athlete
from trainlog import trace_blob
from trainlog.trace import Trace

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path
    return athlete_with_physiology(athlete())


def shared(owner, days=range(3), **more):
    for day in days:
        worn(owner, day, left=-2 - day, right=-6 - 2 * day, **more)


def only(answer):
    (compared,) = answer.compared
    return compared


def test_sensors_worn_together_are_compared_on_the_sessions_they_share(owner):
    shared(owner)
    worn(owner, 5, left=-30)

    found = only(compare(owner, Wish()))

    assert [sensor.name for sensor in (found.first, found.second)] == ["left", "right"]
    assert found.whole.sessions == 3
    assert found.whole.figures["bias"].first == pytest.approx(-3, abs=0.05)
    assert found.whole.main.difference == pytest.approx(-5, abs=0.05)
    assert found.whole.main.has_interval


def test_seconds_that_one_of_both_lacks_count_for_neither(owner):
    left, right = worn(owner, 0, left=-2, right=-6)
    reference = work()
    reference[:300] = np.nan
    tested = np.where(np.isnan(reference), np.nan, work() - 2)
    left.reference_trace = trace_blob.pack(Trace(MORNING, reference))
    left.tested_trace = trace_blob.pack(Trace(MORNING, tested))
    left.save()
    bad = work() - 6
    bad[:300] = 50
    right.tested_trace = trace_blob.pack(Trace(MORNING, bad))
    right.save()

    (session,) = only(compare(owner, Wish(way=Way.SAME))).sessions

    assert (session.first.seconds, session.second.seconds) == (300, 300)
    assert session.second.bias == pytest.approx(-6, abs=0.05)


def test_three_shared_sessions_are_preferred_and_fewer_give_way_to_matched_ones(owner):
    shared(owner, range(2))
    assert compare(owner, Wish()).way == Way.MATCHED

    shared(owner, [4])
    assert compare(owner, Wish()).way == Way.SAME


def test_two_shared_sessions_if_asked_for_give_figures_without_intervals(owner):
    shared(owner, range(2))

    found = only(compare(owner, Wish(way=Way.SAME)))

    assert found.whole.sessions == 2
    assert not found.whole.main.has_interval


def test_sensors_never_worn_together_are_matched_and_the_rest_is_listed(owner):
    for day in range(3):
        worn(owner, day, left=-2)
        worn(owner, day + 10, right=-6)
    worn(owner, 20, right=-6, activity="ride")

    found = only(compare(owner, Wish()))

    assert len(found.sessions) == 3
    assert not any(one.shared for one in found.sessions)
    assert [(left.sensor.name, left.session.activity.slug) for left in found.left_out] == [("right", "ride")]


def test_without_physiology_no_intensity_is_known_and_nothing_is_matched(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path
    owner = athlete()
    worn(owner, 0, left=-2)
    worn(owner, 1, right=-6)

    found = only(compare(owner, Wish(way=Way.MATCHED)))

    assert not found.sessions
    assert len(found.left_out) == 2


def test_pairs_that_were_set_aside_are_not_compared(owner):
    shared(owner, usable=False)

    assert compare(owner, Wish()).sensors == []
    assert references(owner) == []


def test_days_and_activities_narrow_what_is_compared(owner):
    shared(owner)
    shared(owner, [6, 7], activity="ride")
    ride = activity_of(owner, "ride")

    assert only(compare(owner, Wish(way=Way.SAME, activities=[ride]))).whole.sessions == 2
    until = (MORNING + timedelta(days=1)).date()
    assert only(compare(owner, Wish(way=Way.SAME, last=until))).whole.sessions == 2
    assert only(compare(owner, Wish(way=Way.SAME, first=until))).whole.sessions == 4


def test_several_activities_are_compared_one_by_one_too(owner):
    shared(owner)
    shared(owner, [6], activity="ride")

    found = only(compare(owner, Wish()))

    assert {kind.slug: own.sessions for kind, own in found.by_activity} == {"run": 3, "ride": 1}


def test_a_single_activity_needs_no_line_of_its_own(owner):
    shared(owner)

    assert only(compare(owner, Wish())).by_activity == []


def test_the_reference_is_the_one_with_most_pairs_unless_another_is_asked_for(owner):
    shared(owner)
    shared(owner, [5], reference="spare")
    strap, spare = references(owner)

    assert (strap.name, spare.name) == ("chest", "spare")
    assert compare(owner, Wish()).reference == strap
    assert only(compare(owner, Wish(reference=spare, way=Way.SAME))).whole.sessions == 1


def test_three_sensors_are_compared_two_by_two_and_adjusted_together(owner):
    shared(owner)
    pair = Pair.objects.of(owner).filter(tested__sensor__name="right").first()
    third = pair.tested.sensor
    third.pk, third.name, third._state.adding = None, "third", True
    third.key = "00000000-0000-4000-8000-000000000003"
    third.save()
    for right in Pair.objects.of(owner).filter(tested__sensor__name="right").order_by("pk"):
        file = right.tested
        file.pk, file.sensor, file._state.adding = None, third, True
        file.sha256 = f"{right.pk:064d}"
        file.save()
        right.pk, right.tested, right._state.adding = None, file, True
        right.save()

    answer = compare(owner, Wish())

    assert len(answer.compared) == answer.whole_looks == 3
    for one in answer.compared:
        assert one.adjusted[WHOLE] >= one.whole.main.p
    left_right, _, right_third = answer.compared
    assert right_third.whole.main.difference == 0
    assert left_right.adjusted[WHOLE] > left_right.whole.main.p


def test_another_athletes_pairs_are_nobody_elses(owner):
    shared(owner)
    other = athlete("ben")

    assert sensors_with_pairs(other) == []
    assert compare(other, Wish()).compared == []
