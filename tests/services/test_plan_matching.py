from collections import Counter
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainlog.services.plan_matching import Session, State, match, state

MONDAY = date(2026, 3, 2)
TUESDAY = MONDAY + timedelta(days=1)
RUN, RIDE, LIFTING = 1, 2, 3
FAMILIES = {RUN: "steady", RIDE: "steady", LIFTING: "resistance"}


def session(activity, day=MONDAY):
    return Session(day, activity, FAMILIES[activity])


sessions = st.lists(
    st.builds(session, st.sampled_from(sorted(FAMILIES)), st.sampled_from([MONDAY, TUESDAY])), max_size=8
)


def test_a_part_of_the_same_activity_and_day_meets_a_session():
    assert match([session(RUN)], [session(LIFTING), session(RUN)]) == [1]


def test_a_part_of_another_day_meets_nothing():
    assert match([session(RUN)], [session(RUN, TUESDAY)]) == [None]


def test_a_part_meets_one_session_at_most():
    assert match([session(RUN), session(RUN)], [session(RUN)]) == [0, None]


def test_the_same_activity_goes_before_the_same_family_whatever_the_order():
    assert match([session(RIDE), session(RUN)], [session(RUN)]) == [None, 0]
    assert match([session(RIDE), session(RUN)], [session(RUN), session(RIDE)]) == [1, 0]


def test_a_part_of_the_same_family_stands_in():
    assert match([session(RIDE)], [session(LIFTING), session(RUN)]) == [1]


@given(sessions, sessions)
def test_no_part_is_used_twice_and_as_many_sessions_are_met_as_can_be(meant, did):
    met = match(meant, did)
    used = [place for place in met if place is not None]
    assert len(used) == len(set(used))
    wanted = Counter((one.day, one.family) for one in meant)
    there = Counter((one.day, one.family) for one in did)
    assert len(used) == (wanted & there).total()
    exact = sum(place is not None and did[place] == one for one, place in zip(meant, met, strict=True))
    assert exact == (Counter(meant) & Counter(did)).total()


@pytest.mark.parametrize(
    ("did", "today", "became"),
    [
        (session(RUN), MONDAY, State.DONE),
        (session(RIDE), MONDAY, State.OTHERWISE),
        (None, MONDAY, State.TO_COME),
        (None, MONDAY - timedelta(days=1), State.TO_COME),
        (None, TUESDAY, State.MISSED),
    ],
)
def test_a_session_is_missed_only_once_its_day_is_past(did, today, became):
    assert state(session(RUN), did, today) == became
