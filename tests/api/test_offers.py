from datetime import timedelta

import pytest

from tests.builders import MORNING, part
from trainlog.models import CheckIn, Physiology
from trainlog.services.offers import decline_offer
from trainlog.services.recovery_check import claim_recovery

pytestmark = pytest.mark.django_db


@pytest.fixture
def settled(ana):
    """Mornings that have settled well below the resting rate that is entered."""
    today = ana.today()
    Physiology.objects.create(
        owner=ana, from_day=today - timedelta(days=90), resting_rate=60, maximum_rate=190
    )
    for back in range(14):
        CheckIn.objects.create(owner=ana, day=today - timedelta(days=back), resting_rate=50 + back % 2)
    return ana


def test_a_settled_resting_rate_is_offered_until_it_is_declined(signed_in, settled):
    offer = signed_in.get("/api/offers/resting-rate").json()
    assert (offer["value"], offer["mornings"]) == (50.5, 14)
    decline_offer(settled, "resting", offer["value"])
    assert signed_in.get("/api/offers/resting-rate").json() is None


def test_without_a_strap_no_maximum_is_offered(signed_in, settled):
    assert signed_in.get("/api/offers/maximum-rate").json() is None


def test_claimed_hours_are_listed_with_what_a_strap_would_have_made_of_them(signed_in, ana):
    for day, hours in enumerate([{"wrist": 20, "strap": 30}, {"wrist": 16}]):
        workout = part(ana, MORNING + timedelta(days=day)).workout
        for fed_by, claimed in hours.items():
            claim_recovery(workout, fed_by, claimed)
    answer = signed_in.get("/api/recovery/claimed").json()
    alone, both = answer["claims"]
    assert (answer["pairs"], both["ratio"], both["likely"]) == (1, 1.5, None)
    assert alone["likely"][0] < alone["likely"][1] < alone["likely"][2]
