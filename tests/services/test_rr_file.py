from datetime import date, timedelta

import numpy as np
import pytest
from django.core.exceptions import ValidationError

from tests.builders import csv_file
from trainlog.models import CheckIn
from trainlog.services.check_in import check_in_of, save_check_in, save_rr_file
from trainlog.services.rr_file import LARGEST_BYTES, rmssd_of_file

pytestmark = pytest.mark.django_db

DAY = date(2026, 3, 2)


def intervals(count=100, swing=30.0):
    """Intervals about 900 ms that breathe."""
    return np.round(900 + swing * np.sin(np.arange(count)), 1)


def text(rr_ms, head=""):
    return (head + "\n".join(f"{value:g}" for value in rr_ms) + "\n").encode()


def bluetooth(rr_ms, start="2026-03-02T06:00:00"):
    """Log of one Heart Rate Measurement a beat: rate and one RR interval."""
    at = np.datetime64(start) + np.cumsum(rr_ms).astype("timedelta64[ms]")
    lines = []
    for when, interval in zip(at, rr_ms, strict=True):
        units = round(interval * 1.024).to_bytes(2, "little").hex(" ")
        lines.append(f"{when}Z 16 43 {units}")
    return "\n".join(lines).encode()


def refusal(content, ana, day=DAY):
    with pytest.raises(ValidationError) as refused:
        rmssd_of_file(content, day, ana.zone)
    return refused.value.message_dict["rr_file"][0]


def test_plain_intervals_give_rmssd_with_their_number_and_what_was_corrected(ana):
    rr_ms = intervals()
    found = rmssd_of_file(text(rr_ms), DAY, ana.zone)
    assert found.rmssd == pytest.approx(np.sqrt(np.mean(np.diff(rr_ms) ** 2)), abs=0.05)
    assert (found.rmssd_beats, found.rmssd_corrected_share) == (100, 0)


def test_a_bluetooth_log_gives_the_same(ana):
    found = rmssd_of_file(bluetooth(intervals()), DAY, ana.zone)
    assert found.rmssd == pytest.approx(rmssd_of_file(text(intervals()), DAY, ana.zone).rmssd, abs=0.3)
    # The first interval began before the log did.
    assert found.rmssd_beats in {99, 100}


def test_a_missed_beat_is_corrected_and_counted(ana):
    rr_ms = intervals()
    missed = np.concatenate([rr_ms[:50], [rr_ms[50] + rr_ms[51]], rr_ms[52:]])
    found = rmssd_of_file(text(missed), DAY, ana.zone)
    assert found.rmssd_corrected_share == pytest.approx(1 / 99)
    assert found.rmssd == pytest.approx(rmssd_of_file(text(rr_ms), DAY, ana.zone).rmssd, rel=0.05)


def test_too_few_beats_are_refused(ana):
    assert "60 s are needed" in refusal(text(intervals(60)), ana)


def test_too_many_corrections_are_refused_with_what_to_do(ana):
    rr_ms = intervals(200)
    rr_ms[5::10] *= 2
    assert "had to be corrected" in refusal(text(rr_ms), ana)
    assert "wet the strap" in refusal(text(rr_ms), ana)


def test_a_long_recording_is_no_rest(ana):
    assert "use one to 10 minutes" in refusal(text(intervals(800)), ana)
    assert rmssd_of_file(text(intervals(660)), DAY, ana.zone).rmssd_beats == 660


def test_a_heart_rate_alone_is_refused(ana):
    assert "holds no RR intervals" in refusal(csv_file(), ana)


def test_a_file_of_another_day_is_refused_and_one_without_a_day_is_taken(ana):
    head = "# start: 2026-03-01T06:30:00Z\n"
    assert "recorded on 01 March 2026" in refusal(text(intervals(), head), ana)
    assert rmssd_of_file(text(intervals(), head), date(2026, 3, 1), ana.zone).rmssd_beats == 100


@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02", b"no number\nnor here\n", b"65\n66\n64\n" * 50])
def test_what_is_no_rr_file_is_explained(ana, content):
    assert refusal(content, ana).endswith(".")


def test_a_large_file_is_refused_unread(ana):
    assert "larger than 1 MB" in refusal(b"9" * (LARGEST_BYTES + 1), ana)


def test_a_file_fills_the_rmssd_of_what_is_noted(ana):
    kept = save_check_in(ana, DAY, {"fatigue": 3}, rr_file=text(intervals()))
    assert (kept.fatigue, kept.rmssd_beats) == (3, 100)
    assert kept.rmssd == rmssd_of_file(text(intervals()), DAY, ana.zone).rmssd


def test_a_refused_file_leaves_the_morning_as_it_was(ana):
    save_check_in(ana, DAY, {"rmssd": 60})
    with pytest.raises(ValidationError):
        save_check_in(ana, DAY, {"fatigue": 3}, rr_file=text(intervals(20)))
    assert (check_in_of(ana, DAY).rmssd, check_in_of(ana, DAY).fatigue) == (60, None)


def test_a_typed_value_beside_a_file_is_refused(ana):
    with pytest.raises(ValidationError, match="not both"):
        save_check_in(ana, DAY, {"rmssd": 60}, rr_file=text(intervals()))
    assert not CheckIn.objects.exists()


def test_a_file_takes_the_place_of_the_value_that_stood_in_the_form(ana):
    save_check_in(ana, DAY, {"rmssd": 60})
    assert save_check_in(ana, DAY, {"rmssd": 60}, rr_file=text(intervals())).rmssd_beats == 100


def test_saving_the_morning_again_keeps_what_is_known_of_the_file(ana):
    kept = save_rr_file(ana, DAY, text(intervals()))
    again = save_check_in(ana, DAY, {"rmssd": kept.rmssd, "fatigue": 2})
    assert (again.rmssd_beats, again.rmssd_corrected_share) == (100, 0)
    assert save_check_in(ana, DAY, {"rmssd": kept.rmssd + 1}).rmssd_beats is None


def test_a_file_sent_for_a_morning_leaves_what_else_is_noted(ana):
    save_check_in(ana, DAY, {"resting_rate": 51, "note": "late"})
    kept = save_rr_file(ana, DAY, text(intervals()))
    assert (kept.resting_rate, kept.note, kept.rmssd_beats) == (51, "late", 100)


def test_a_file_for_a_morning_to_come_is_refused(ana):
    with pytest.raises(ValidationError, match="still to come"):
        save_rr_file(ana, ana.today() + timedelta(days=1), text(intervals()))
