"""Claimed recovery hours: what pairs of them teach of those from the wrist alone."""

from datetime import timedelta

import pytest

from accuracy.services.claimed_recovery import claims_of
from tests import builders
from trainlog.services.recovery_check import claim_recovery

pytestmark = pytest.mark.django_db


def claimed(owner, day, activity="run", **hours):
    part = builders.part(owner, builders.MORNING + timedelta(days=day), activity=activity)
    for fed_by, value in hours.items():
        claim_recovery(part.workout, fed_by, value)


def test_without_a_pair_nothing_is_corrected(ana):
    claimed(ana, 0, wrist=20)
    found = claims_of(ana)
    assert (found.pairs, found.ratio) == (0, None)
    assert found.rows[0].likely is None


def test_pairs_move_a_claim_from_the_wrist_toward_their_ratio_and_narrow_it(ana):
    claimed(ana, 0, wrist=20)
    ranges = []
    for count in (1, 8):
        for day in range(1, count + 1):
            if not ana_has(ana, day):
                claimed(ana, day, wrist=20, strap=32)
        alone = claims_of(ana).rows[-1]
        ranges.append(alone.likely)
    (low, median, high), (later_low, later_median, later_high) = ranges
    assert 20 < median < later_median < 32.5
    assert later_low < 32 < later_high
    assert later_high / later_low < high / low


def ana_has(owner, day):
    at = builders.MORNING + timedelta(days=day)
    return any(one.workout.start == at for one in claims_of(owner).rows)


def test_a_workout_with_both_shows_its_ratio_and_needs_no_correction(ana):
    claimed(ana, 0, wrist=20, strap=30)
    (row,) = claims_of(ana).rows
    assert row.ratio == pytest.approx(1.5)
    assert row.likely is None


def test_hours_near_nothing_teach_nothing(ana):
    claimed(ana, 0, wrist=0, strap=30)
    assert claims_of(ana).pairs == 0


def test_the_order_in_which_claims_were_noted_does_not_matter():
    likely = []
    for name, days in (("ana", (1, 2, 3)), ("ben", (3, 1, 2))):
        owner = builders.athlete(name, seed=5)
        for day in days:
            claimed(owner, day, wrist=20, strap=20 + 4 * day)
        claimed(owner, 9, wrist=18)
        likely.append(claims_of(owner).rows[0].likely)
    assert likely[0] == likely[1]


def test_only_the_owners_claims_count(ana):
    claimed(builders.athlete("ben"), 0, wrist=20, strap=30)
    assert claims_of(ana).rows == []
