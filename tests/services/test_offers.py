from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.exceptions import ValidationError

from tests.builders import athlete
from trainlog.models import CheckIn, DeclinedOffer, Physiology, Stay
from trainlog.services.offers import decline_offer, resting_offer, was_declined

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana():
    owner = athlete("ana")
    since = owner.today() - timedelta(days=60)
    Physiology.objects.create(owner=owner, from_day=since, resting_rate=50, maximum_rate=190)
    return owner


def mornings(owner, *rates):
    """One resting rate a morning up to today."""
    CheckIn.objects.of(owner).delete()
    for back, rate in enumerate(reversed(rates)):
        CheckIn.objects.create(owner=owner, day=owner.today() - timedelta(days=back), resting_rate=rate)


def test_mornings_that_settled_elsewhere_are_offered_with_their_doubt(ana):
    mornings(ana, 54, 55, 56, 54, 55, 56, 55, 55)
    offer = resting_offer(ana, ana.today())
    assert (offer.value, offer.mornings, offer.day, offer.entered) == (55, 8, ana.today(), 50)
    assert offer.error == pytest.approx(0.27, abs=0.01)


def test_mornings_near_what_is_entered_offer_nothing(ana):
    mornings(ana, *[51, 52] * 6)
    assert resting_offer(ana, ana.today()) is None


def test_without_physiology_there_is_nothing_to_change():
    ben = athlete("ben")
    mornings(ben, *[55] * 10)
    assert resting_offer(ben, ben.today()) is None


def test_mornings_before_the_entered_row_do_not_contradict_it(ana):
    mornings(ana, *[55] * 12)
    Physiology.objects.create(
        owner=ana, from_day=ana.today() - timedelta(days=2), resting_rate=50, maximum_rate=190
    )
    assert resting_offer(ana, ana.today()) is None


def test_what_was_declined_is_offered_again_only_two_bpm_beyond(ana):
    mornings(ana, *[55] * 10)
    decline_offer(ana, "resting", 55)
    assert resting_offer(ana, ana.today()) is None
    mornings(ana, *[56] * 10)
    assert resting_offer(ana, ana.today()) is None
    mornings(ana, *[57] * 10)
    assert resting_offer(ana, ana.today()).value == 57
    mornings(ana, *[45] * 10)
    assert resting_offer(ana, ana.today()).value == 45


def test_a_new_row_lifts_what_was_declined_before_it(ana):
    row = Physiology.objects.get()
    DeclinedOffer.objects.create(owner=ana, kind="maximum", value=195)
    assert was_declined(ana, "maximum", 195, row)
    row.from_day = ana.today() + timedelta(days=1)
    assert not was_declined(ana, "maximum", 195, row)


def test_declining_one_kind_leaves_the_other_and_other_athletes_alone(ana):
    row = Physiology.objects.get()
    DeclinedOffer.objects.create(owner=athlete("ben"), kind="maximum", value=195)
    DeclinedOffer.objects.create(owner=ana, kind="resting", value=55)
    assert not was_declined(ana, "maximum", 195, row)


@pytest.mark.parametrize(
    ("kind", "value"), [("maximum", 300), ("resting", 10), ("mood", 50), ("resting", float("nan"))]
)
def test_what_is_never_offered_cannot_be_declined(ana, kind, value):
    with pytest.raises(ValidationError, match="no such offer"):
        decline_offer(ana, kind, value)
    assert not DeclinedOffer.objects.exists()


def test_nothing_is_applied_by_offering(ana):
    mornings(ana, *[55] * 10)
    resting_offer(ana, ana.today())
    assert Physiology.objects.get().resting_rate == 50
    assert Physiology.objects.get().from_day < date.today()


def test_a_figure_declined_during_a_stay_was_declined_on_the_day_there(ana):
    when = datetime(2026, 3, 2, 20, tzinfo=UTC)
    Stay.objects.create(
        owner=ana, time_zone="Asia/Tokyo", first_day=date(2026, 3, 1), last_day=date(2026, 3, 9)
    )
    row = Physiology.objects.create(owner=ana, from_day=date(2026, 3, 3), resting_rate=50, maximum_rate=190)
    DeclinedOffer.objects.create(owner=ana, kind="resting", value=55, declined_at=when)
    assert was_declined(ana, "resting", 55, row)
