"""Sentences from numbers."""

from datetime import date

from accuracy.core.learning.drift import Drift
from accuracy.core.learning.features import FEATURES
from accuracy.core.learning.selection import Difference
from accuracy.services import wording


def test_what_lies_outside_the_pairs_is_named_the_farthest_first():
    sentence = wording.unlike({"peaks": 0.2, "load": 1.4, "length": 0.1})
    assert sentence == " No pair was like it in its intensity and its peaks, so the margin is wider."


def test_a_session_like_the_pairs_has_no_such_sentence():
    assert wording.unlike({}) == ""


def test_every_feature_has_its_words():
    assert set(wording.UNLIKE) == set(FEATURES)


def test_a_changed_sensor_is_told_with_the_day_and_the_pairs_since():
    sentence = wording.changed(Drift(date(2026, 3, 3).toordinal(), 1.8, 2))
    assert "Since about 3 March 2026" in sentence
    assert "2 pairs since" in sentence


def test_strap_days_unlike_the_others_are_told_with_what_to_do():
    sentence = wording.chosen_days([Difference("load", 1.0, 0.5, 0.01), Difference("length", 3.5, 4.0, 0.03)])
    assert "harder and shorter than those without" in sentence
    assert "Let chance pick some strap days" in sentence


def test_gaps_that_make_little_of_the_margin_are_not_mentioned():
    assert wording.share_of_gaps(0.04) == ""
    assert wording.share_of_gaps(0.4) == " They make about 40% of the margin."
