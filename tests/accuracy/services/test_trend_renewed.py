"""Whatever changes a day of the log, learning renews the trend, and all of it rests on one source."""

from datetime import date, timedelta

import pytest

from accuracy.models import LearningState
from accuracy.services.learn import learn
from accuracy.services.stale import stale, unlearned
from tests import builders
from tests.accuracy.session_builders import FIRST_DAY, session
from trainlog.models import Athlete, Measure, Part, Stay, TrendWeek, Workout
from trainlog.services import edit_workout
from trainlog.services.delete_workouts import delete_workout
from trainlog.services.stays import delete_stay, save_stay
from trainlog.services.trend_settings import set_spans
from trainlog.services.trend_store import keep_trend
from trainlog.services.unknown_days import mark_unknown

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture(scope="module")
def learned_log(rows_of_the_module):
    """Key of the athlete of a log that was learned from."""
    owner = builders.equipped_athlete("ana", strap="Strap", wrist="Wrist")
    session(owner, 0, minutes=12, strap=140)
    # Half past six in the evening: in Tokyo the next day, and the next week.
    session(owner, 6.5, minutes=12, strap=150, wrist=145)
    save_stay(owner, stay(20, 25))
    learned(owner)
    return owner.pk


@pytest.fixture
def ana(learned_log):
    return Athlete.objects.get(pk=learned_log)


def on(offset: int) -> date:
    return (FIRST_DAY + offset * DAY).date()


def stay(first: int, last: int) -> Stay:
    return Stay(time_zone="Asia/Tokyo", first_day=on(first), last_day=on(last))


def last_part(owner: Athlete) -> Part:
    return Part.objects.of(owner).select_related("workout", "owner").latest("start")


def learned(owner: Athlete) -> None:
    while not learn(owner):
        pass
    owner.refresh_from_db()


def kept(owner: Athlete) -> list[tuple[object, ...]]:
    rows = TrendWeek.objects.of(owner).order_by("measure", "source", "monday")
    return [(row.measure, row.source, row.monday, bytes(row.figures), bytes(row.state)) for row in rows]


def cut(owner: Athlete) -> None:
    edit_workout.split_part(last_part(owner), last_part(owner).start + timedelta(minutes=5))


def cut_and_joined(owner: Athlete) -> None:
    cut(owner)
    learned(owner)
    edit_workout.join_with_next(
        Part.objects.of(owner).filter(workout=last_part(owner).workout).earliest("start")
    )


CHANGES = {
    "a day marked": lambda owner: mark_unknown(owner, on(5), on(5)),
    "other spans": lambda owner: set_spans(owner, 5, 30, 45, 6),
    "the first workout deleted": lambda owner: delete_workout(Workout.objects.of(owner).earliest("start")),
    "parts joined": cut_and_joined,
    "a stay added later": lambda owner: save_stay(owner, stay(5, 9)),
    "a stay deleted": lambda owner: delete_stay(Stay.objects.of(owner).get()),
}
"""Among them such as leave no estimate out of date."""


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_learning_after_a_change_leaves_the_trend_as_if_it_were_made_from_nothing(ana, change):
    change(ana)
    assert ana in unlearned()
    learned(ana)
    renewed = kept(ana)
    TrendWeek.objects.of(ana).delete()
    keep_trend(ana, ana.current_source)
    assert renewed == kept(ana)
    assert {(row[0], row[1]) for row in renewed} == {(measure, ana.current_source) for measure in Measure}
    assert not stale(ana).exists()
    assert LearningState.objects.get(owner=ana).learned_revision == ana.log_revision


def test_a_stay_added_later_moves_the_load_to_the_next_week(ana):
    before = {row[2]: row[3] for row in kept(ana)}
    save_stay(ana, stay(5, 9))
    learned(ana)
    after = {row[2]: row[3] for row in kept(ana)}
    assert after[on(0)] != before[on(0)]
    assert max(after) == max(before) + timedelta(days=7)
