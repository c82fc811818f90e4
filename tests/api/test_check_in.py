import json
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests.builders import MORNING, athlete
from trainlog.models import CheckIn

pytestmark = pytest.mark.django_db

DAY = MORNING.date().isoformat()


def put(signed_in, day, **noted):
    return signed_in.put(f"/api/check-ins/{day}", json.dumps(noted), content_type="application/json")


def test_a_morning_is_kept_and_shown(signed_in, ana):
    noted = {"resting_rate": 51, "rmssd": 62.5, "sleep_hours": 7.5, "sleep_quality": 2, "note": "late"}
    answer = put(signed_in, DAY, **noted)
    empty = dict.fromkeys(("fatigue", "stress", "soreness", "rmssd_beats", "rmssd_corrected_share"))
    assert (answer.status_code, answer.json()) == (200, noted | empty | {"day": DAY})
    assert signed_in.get(f"/api/check-ins/{DAY}").json() == answer.json()
    assert CheckIn.objects.of(ana).get().day == MORNING.date()


def test_what_is_left_out_the_second_time_is_no_longer_noted(signed_in):
    put(signed_in, DAY, resting_rate=51)
    assert put(signed_in, DAY, rmssd=60).json()["resting_rate"] is None


def test_a_morning_without_a_check_in_is_not_found(signed_in):
    assert signed_in.get(f"/api/check-ins/{DAY}").status_code == 404


def test_mornings_of_a_range_are_listed_oldest_first(signed_in):
    for day in ("2026-03-05", "2026-03-02", "2026-03-03", "2026-03-01"):
        put(signed_in, day, resting_rate=50)
    listed = signed_in.get("/api/check-ins?from=2026-03-02&to=2026-03-04").json()
    assert [morning["day"] for morning in listed] == ["2026-03-02", "2026-03-03"]


def test_a_range_in_the_wrong_order_is_explained(signed_in):
    answer = signed_in.get("/api/check-ins?from=2026-03-02&to=2026-03-01")
    assert answer.status_code == 422
    assert "must not be after" in answer.json()["detail"]


@pytest.mark.parametrize(
    ("noted", "words"),
    [
        ({}, "fill in at least one field"),
        ({"resting_rate": 300}, "between 25 and 120 bpm"),
        ({"stress": 8}, "stress"),
        ({"mood": 3}, "mood"),
        ({"rmssd": "many"}, "rmssd"),
    ],
)
def test_what_cannot_be_is_explained_and_not_kept(signed_in, ana, noted, words):
    answer = put(signed_in, DAY, **noted)
    assert answer.status_code == 422
    assert words in answer.json()["detail"]
    assert not CheckIn.objects.of(ana).exists()


def test_a_morning_to_come_is_refused(signed_in, ana):
    answer = put(signed_in, ana.today() + timedelta(days=1), resting_rate=50)
    assert answer.status_code == 422
    assert "still to come" in answer.json()["detail"]


def test_keeping_a_morning_needs_the_token(ana):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(ana.user)
    assert put(strict, DAY, resting_rate=50).status_code == 403


def send(signed_in, beats=100, day=DAY):
    rr_ms = "\n".join(str(900 + 30 * (beat % 3)) for beat in range(beats))
    file = SimpleUploadedFile("morning.txt", rr_ms.encode())
    return signed_in.post(f"/api/check-ins/{day}/rr-file", {"file": file})


def test_a_file_of_rr_intervals_sets_rmssd_and_leaves_the_rest(signed_in):
    put(signed_in, DAY, resting_rate=51)
    answer = send(signed_in)
    assert answer.status_code == 200
    kept = answer.json()
    assert (kept["resting_rate"], kept["rmssd_beats"], kept["rmssd_corrected_share"]) == (51, 100, 0)
    assert kept["rmssd"] == pytest.approx(42.3, abs=1)
    assert signed_in.get(f"/api/check-ins/{DAY}").json() == kept


def test_a_file_that_gives_no_rmssd_is_explained_and_nothing_is_kept(signed_in, ana):
    answer = send(signed_in, beats=20)
    assert answer.status_code == 422
    assert "60 s are needed" in answer.json()["detail"]
    assert signed_in.post(f"/api/check-ins/{DAY}/rr-file").status_code == 422
    assert send(signed_in, day=ana.today() + timedelta(days=1)).status_code == 422
    assert not CheckIn.objects.exists()


def test_a_morning_is_deleted_for_good(signed_in):
    put(signed_in, DAY, resting_rate=51)
    answer = signed_in.delete(f"/api/check-ins/{DAY}")
    assert (answer.status_code, answer.content) == (204, b"")
    assert signed_in.get(f"/api/check-ins/{DAY}").status_code == 404
    assert signed_in.delete(f"/api/check-ins/{DAY}").status_code == 404


def test_only_ones_own_morning_is_deleted(signed_in):
    CheckIn.objects.create(owner=athlete("ben"), day=MORNING.date(), resting_rate=60)
    assert signed_in.delete(f"/api/check-ins/{DAY}").status_code == 404
    assert CheckIn.objects.exists()


def test_sending_a_file_and_deleting_need_the_token(ana):
    put_client = Client(enforce_csrf_checks=True)
    put_client.force_login(ana.user)
    assert send(put_client).status_code == 403
    assert put_client.delete(f"/api/check-ins/{DAY}").status_code == 403
