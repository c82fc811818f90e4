"""What a comparison is said to show, and what it is not."""

import dataclasses
import math
from datetime import date

import pytest

from accuracy.core.agreement.paired_differences import PairedDifference
from accuracy.core.agreement.paired_variances import VarianceRatio
from accuracy.core.agreement.sensor_comparison import MAIN, Comparison, SessionError
from accuracy.services.compared_sessions import Paired
from accuracy.services.sensor_comparison import WHOLE, Answer, Compared, Way
from accuracy.shown.comparison_words import adjusted_in_words, cautions, nearer, verdict
from trainlog.models import Firmware, Sensor, Workout

DAYS = [date(2026, 3, day) for day in range(2, 30)]


def named(key, name, *versions):
    """Sensor that has run versions from the first days on, without a database."""
    sensor = Sensor(pk=key, name=name)
    firmware = [Firmware(version=version, from_day=day) for version, day in zip(versions, DAYS, strict=False)]
    sensor._prefetched_objects_cache = {"firmware": firmware}
    return sensor


LEFT, RIGHT, STRAP = named(1, "Left", "2.6", "3.0"), named(2, "Right", "1.4"), named(3, "Strap")
ERROR = SessionError(600, -1.0, 2.0, 5.0, 1.5, 130.0)
NAMES = ("Left", "Right")


def difference(first=2.0, second=5.0, low=-4.0, high=-2.0, *, sessions=8, p=0.001):
    return PairedDifference(sessions, first, second, first - second, low, high, p, p)


def unsure(first=2.0, second=5.0, low=-7.0, high=1.0):
    return difference(first, second, low, high, p=0.12)


def workout(key, day):
    return Workout(pk=key, day=day)


def compared(main, *, adjusted=None, variance=None, shared=True, first_day=DAYS[5]):
    """Comparison whose first session was on another day than the rest, if one is given."""
    days = [first_day, *[DAYS[5]] * (main.sessions - 1)][: main.sessions]
    paired = [
        Paired(workout(n, day), workout(n if shared else n + 100, day), [], ERROR, ERROR)
        for n, day in enumerate(days)
    ]
    whole = Comparison(main.sessions, {MAIN: main}, variance)
    return Compared(LEFT, RIGHT, paired, whole, [], [], {WHOLE: main.p if adjusted is None else adjusted})


def said(of, *, way=Way.SAME, looks=1):
    return " ".join(verdict(Answer([LEFT, RIGHT], STRAP, way, [of], looks), of))


def test_a_shown_difference_names_the_nearer_sensor_with_its_interval_and_its_sample():
    words = said(compared(difference()))

    assert words.startswith("In 8 sessions of one person, recorded by both, Left came nearer")
    assert "2.0 against 5.0 bpm, a difference of 3.0 bpm (95% interval 2.0 to 4.0)" in words


def test_the_second_sensor_may_be_the_nearer_one():
    words = said(compared(difference(5.0, 2.0, 2.0, 4.0)))

    assert "Right came nearer to the reference than Left" in words
    assert "(95% interval 2.0 to 4.0)" in words


def test_an_interval_that_holds_zero_shows_nothing_and_is_not_called_equality():
    words = said(compared(unsure()))

    assert "from 7.0 bpm nearer to 1.0 bpm farther" in words
    assert "do not show which of the two is nearer" in words
    assert "not the same as their being equal" in words


def test_the_interval_is_told_from_the_side_of_whichever_came_nearer():
    assert "Right came 3.0 bpm nearer" in said(compared(unsure(5.0, 2.0, -1.0, 7.0)))
    assert "from 7.0 bpm nearer to 1.0 bpm farther" in said(compared(unsure(5.0, 2.0, -1.0, 7.0)))


def test_a_difference_that_adjusting_takes_away_is_not_claimed():
    words = said(compared(difference(p=0.03), adjusted=0.09), looks=3)

    assert "do not show which" in words
    assert "3 such questions were asked at once (Holm)" in words


def test_below_three_sessions_nothing_is_said_of_which_is_nearer():
    main = PairedDifference(2, 2.0, 5.0, -3.0)
    words = said(compared(main))

    assert "In 2 sessions" in words
    assert "nothing can be said of which is nearer" in words
    assert "came nearer" not in words


def test_five_sessions_are_said_to_be_few():
    assert "cannot come below p 0.062" in said(compared(difference(sessions=5)))
    assert "turning signs" not in said(compared(difference(sessions=6)))


def test_a_steadier_bias_is_named_only_where_the_sessions_show_it():
    steady = VarianceRatio(8, 1.0, 3.0, 0.11, 0.02, 0.6, 0.01, 0.02)

    assert "bias of Left varied less" in said(compared(difference(), variance=steady))
    reverse = dataclasses.replace(steady, ratio=9.0, low=1.7, high=50.0)
    assert "bias of Right varied less from session to session: its variance was 0.11 times" in said(
        compared(difference(), variance=reverse)
    )
    for unsure_of in ({"p": 0.2}, {"sessions": 5}):
        kept_quiet = compared(difference(), variance=dataclasses.replace(steady, **unsure_of))
        assert "varied less" not in said(kept_quiet)


@pytest.mark.parametrize(
    ("way", "words"),
    [(Way.SAME, "was recorded by Left and Right and Strap"), (Way.MATCHED, "can be matched")],
)
def test_without_a_session_it_says_so(way, words):
    nothing = PairedDifference(0, math.nan, math.nan, math.nan)

    assert words in said(compared(nothing), way=way)


def test_matched_sessions_are_said_to_be_weaker_evidence():
    matched = compared(difference(), shared=False)

    (caution,) = cautions(Answer([LEFT, RIGHT], STRAP, Way.MATCHED, [matched]), matched)

    assert "weaker evidence than wearing both sensors at once" in caution
    assert "worn together" not in caution


def test_sessions_that_were_shared_after_all_are_counted_among_matched_ones():
    matched = compared(difference())

    (caution,) = cautions(Answer([LEFT, RIGHT], STRAP, Way.MATCHED, [matched]), matched)

    assert "8 of the 8 were in fact worn together" in caution


def test_versions_of_the_firmware_that_are_taken_as_one_are_named():
    mixed = compared(difference(), first_day=DAYS[0])

    assert cautions(Answer([LEFT, RIGHT], STRAP, Way.SAME, [mixed]), mixed) == [
        "Left ran firmware 2.6 and 3.0 in these sessions, taken as one."
    ]


def test_it_is_said_plainly_what_is_adjusted():
    assert "adjusted for their 4 lines (Holm)" in adjusted_in_words(
        Answer([], None, Way.SAME, [], activity_looks=4)
    )
    assert "are not adjusted" in adjusted_in_words(Answer([], None, Way.SAME, []))


def test_a_line_by_activity_claims_only_what_its_adjusted_p_shows():
    assert nearer(difference(), 0.01, NAMES) == "Left nearer"
    assert nearer(difference(), 0.06, NAMES) == "no difference shown"
    assert nearer(PairedDifference(1, 2.0, 3.0, -1.0), math.nan, NAMES) == "too few sessions"
