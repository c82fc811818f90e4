import pytest
from django.core.exceptions import ValidationError

from tests.builders import athlete
from trainlog.services.trend_settings import set_measure, set_spans

pytestmark = pytest.mark.django_db


def test_the_spans_are_kept_and_the_log_has_changed():
    ana = athlete()
    before = ana.log_revision
    set_spans(ana, 10, 42, 50, 12)
    ana.refresh_from_db()
    assert (ana.acute_days, ana.chronic_days, ana.slow_days, ana.fast_days) == (10, 42, 50, 12)
    assert ana.log_revision == before + 1


@pytest.mark.parametrize(
    ("spans", "field"),
    [
        ((0, 28, 45, 15), "acute_days"),
        ((7, 121, 45, 15), "chronic_days"),
        ((28, 28, 45, 15), "acute_days"),
        ((7, 28, 15, 15), "fast_days"),
        ((7, 28, 500, 15), "slow_days"),
    ],
)
def test_spans_that_make_no_sense_are_refused_beside_their_field(spans, field):
    ana = athlete()
    with pytest.raises(ValidationError) as refusal:
        set_spans(ana, *spans)
    assert list(refusal.value.message_dict) == [field]
    ana.refresh_from_db()
    assert (ana.acute_days, ana.log_revision) == (7, 0)


def test_another_measure_needs_nothing_estimated_anew():
    ana = athlete()
    set_measure(ana, "session_rpe")
    ana.refresh_from_db()
    assert (ana.measure, ana.log_revision) == ("session_rpe", 0)


def test_a_word_that_is_no_measure_is_refused():
    with pytest.raises(ValidationError):
        set_measure(athlete(), "steps")
