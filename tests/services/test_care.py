import pytest
from django.contrib.auth import get_user_model

from tests.builders import athlete
from trainlog.models import Care
from trainlog.services.care import care_of, save_care

pytestmark = pytest.mark.django_db


def test_nothing_is_ticked_at_first_and_nothing_is_kept(ana):
    assert not care_of(ana).any
    assert not Care.objects.exists()


@pytest.mark.parametrize("tick", Care.ticks())
def test_any_tick_switches_off_advice_that_rests_on_heart_rate(ana, tick):
    save_care(ana, {tick: True})
    assert care_of(ana).any
    assert len(care_of(ana).ticked) == 1


def test_new_ticks_replace_those_before(ana):
    save_care(ana, {"pacemaker": True})
    save_care(ana, {"pregnancy": True})
    assert care_of(ana).ticked == ["pregnancy"]


def test_without_a_tick_the_row_is_gone(ana):
    save_care(ana, {"pacemaker": True})
    save_care(ana, {})
    assert not Care.objects.exists()


def test_the_ticks_of_others_are_left_alone(ana):
    ben = athlete("ben")
    save_care(ben, {"illness": True})
    save_care(ana, {})
    assert care_of(ben).any
    assert not care_of(ana).any


@pytest.mark.parametrize(
    ("tick", "little"),
    [
        ("slowing_medicine", True),
        ("quickening_medicine", True),
        ("pacemaker", True),
        ("irregular_rhythm", True),
        ("heart_condition", False),
        ("pregnancy", False),
        ("illness", False),
    ],
)
def test_mornings_say_little_where_something_else_sets_the_beat(ana, tick, little):
    save_care(ana, {tick: True})
    assert care_of(ana).mornings_say_little is little


def test_the_ticks_go_with_the_account(ana):
    save_care(ana, {"pacemaker": True})
    get_user_model().objects.all().delete()
    assert not Care.objects.exists()
