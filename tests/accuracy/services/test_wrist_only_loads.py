"""What moves and widens the load of a session with the wrist alone."""

from datetime import timedelta

import pytest

from accuracy.models import ErrorProfile
from accuracy.services.learn import learn
from tests import builders
from tests.accuracy.session_builders import FIRST_DAY, estimate_of, session
from trainlog.models import Basis, Part
from trainlog.services.athletes import save_settings
from trainlog.services.edit_workout import set_session_rpe

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana():
    return builders.equipped_athlete("ana", strap="Strap", wrist="Wrist")


def rated(athlete, day, rating):
    part = Part.objects.get(workout__day=(FIRST_DAY + timedelta(days=day)).date(), owner=athlete)
    set_session_rpe(part, rating)


def test_a_rating_that_tells_of_the_error_is_combined_with_the_wrist(ana):
    """The wrist always reads the same, whatever the strap; only the rating follows the strap."""
    for day, (rate, rating) in enumerate(
        ((118, 3), (140, 6), (125, 4), (147, 7), (132, 5), (154, 8), (121, 3), (143, 6))
    ):
        session(ana, day, strap=rate, wrist=115)
        rated(ana, day, rating)
    session(ana, 20, wrist=115)
    session(ana, 21, wrist=115)
    rated(ana, 20, 8)
    rated(ana, 21, 3)
    learn(ana)
    hard, easy = estimate_of(ana, 20), estimate_of(ana, 21)
    assert (hard.basis, easy.basis) == (Basis.COMBINED, Basis.COMBINED)
    assert hard.median > 1.3 * easy.median
    assert "your rating of 8" in hard.reason


def test_a_rating_that_tells_nothing_leaves_the_correction_to_the_wrist(ana):
    for day, (rate, rating) in enumerate(((140, 3), (150, 8), (136, 7), (146, 2))):
        session(ana, day, strap=rate, wrist=rate - 20)
        rated(ana, day, rating)
    session(ana, 9, wrist=124)
    rated(ana, 9, 8)
    learn(ana)
    assert estimate_of(ana, 9).basis == Basis.CORRECTED


def test_a_session_far_harder_than_any_pair_is_widened_and_says_so(ana):
    for day, rate in enumerate((130, 134, 128, 132, 131)):
        session(ana, day, strap=rate, wrist=rate - 12)
    session(ana, 9, wrist=119)
    session(ana, 10, wrist=165)
    learn(ana)
    like, unlike = estimate_of(ana, 9), estimate_of(ana, 10)
    assert unlike.sensor_half_width > 1.5 * like.sensor_half_width
    assert "No pair was like it" in unlike.reason
    assert "No pair was like it" not in like.reason


def test_a_sensor_that_began_to_read_lower_is_noticed_and_older_pairs_count_less(ana):
    for day in range(13):
        rate = (126, 146, 134, 154, 140)[day % 5]
        session(ana, day, strap=rate, wrist=rate - (22 if day >= 8 else 2))
    session(ana, 14, wrist=120)
    learn(ana)
    after = estimate_of(ana, 14)
    assert "disagree with those before" in after.reason
    assert after.median > 1.3 * after.raw
    assert "Since about" in " ".join(ErrorProfile.objects.get(owner=ana).remarks)


def test_who_takes_near_more_strictly_gets_other_advice(ana):
    for day, rate in enumerate((140, 150, 136, 145)):
        session(ana, day, strap=rate, wrist=rate - 15 + 3 * (day % 2))
    learn(ana)
    before = ErrorProfile.objects.get(owner=ana)
    ana.refresh_from_db()
    ana.near_per_cent = 2
    save_settings(ana)
    learn(ana)
    after = ErrorProfile.objects.get(owner=ana)
    assert after.within_ten < before.within_ten
    assert "within 2%" in after.reason
