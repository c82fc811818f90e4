"""A program that does not know whether its request arrived sends it again, and nothing is done twice."""

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from tests.builders import athlete, csv_file, send
from trainlog.models import PlannedSession, Recording, UploadKey, Workout
from trainlog.services.sweep import sweep
from trainlog.services.tokens import make_token
from trainlog.services.upload_keys import GIVEN_UP_AFTER

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]

TYPED = {"start": "2026-03-02T06:30:00Z", "minutes": 40, "activity": "run"}


def program(owner, key="one", scope="write"):
    secret = make_token(owner, "a program", scope, 30).secret
    return Client(headers={"Authorization": f"Bearer {secret}", "Idempotency-Key": key})


def type_in(client, **changes):
    return send(client, "POST", "/api/v1/workouts", TYPED | changes)


def upload(client, content, name="a.csv"):
    return client.post("/api/v1/files", {"files": [SimpleUploadedFile(name, content)]})


def test_the_same_request_again_is_done_once_and_answered_alike(ana):
    first, second = type_in(program(ana)), type_in(program(ana))
    assert (second.status_code, second.json()) == (201, first.json())
    assert Workout.objects.count() == 1


def test_without_a_key_it_is_done_again(ana):
    client = Client(headers={"Authorization": f"Bearer {make_token(ana, 'a', 'write', 30).secret}"})
    planned = {"day": "2026-03-02", "activity": "run"}
    for _ in range(2):
        send(client, "POST", "/api/v1/planned-sessions", planned)
    assert PlannedSession.objects.count() == 2


def test_an_upload_sent_again_is_answered_as_the_first_time(ana):
    first, second = upload(program(ana), csv_file()), upload(program(ana), csv_file())
    assert (second.status_code, second.json()) == (202, first.json())
    assert second.json()[0]["duplicate"] is False
    assert Recording.objects.count() == 1


def test_another_request_under_the_same_key_is_refused(ana):
    type_in(program(ana))
    refused = type_in(program(ana), minutes=50)
    assert refused.status_code == 422
    assert "another request" in refused.json()["detail"]
    upload(program(ana, "two"), csv_file())
    assert upload(program(ana, "two"), csv_file(bpm=120)).status_code == 422
    assert (Workout.objects.count(), Recording.objects.count()) == (1, 1)


def test_while_it_is_being_carried_out_the_same_request_waits(ana):
    type_in(program(ana))
    UploadKey.objects.update(status=None)
    assert type_in(program(ana)).status_code == 409
    assert Workout.objects.count() == 1


def test_a_request_that_died_on_its_way_can_be_sent_again(ana):
    type_in(program(ana))
    Workout.objects.all().delete()
    UploadKey.objects.update(status=None, asked_at=timezone.now() - GIVEN_UP_AFTER)
    assert type_in(program(ana)).status_code == 201


def test_a_refused_request_leaves_its_key_free(ana):
    assert type_in(program(ana), activity="nothing of the kind").status_code == 422
    assert type_in(program(ana)).status_code == 201


def test_a_fault_leaves_its_key_free_and_nothing_half_done(ana, monkeypatch):
    def fail(*args, **kwargs):
        raise RuntimeError

    with monkeypatch.context() as patched:
        patched.setattr("trainlog.api.repeats.keep_answer", fail)
        client = program(ana)
        client.raise_request_exception = False
        assert type_in(client).status_code == 500
    assert not Workout.objects.exists()
    assert type_in(program(ana)).status_code == 201


def test_keys_of_different_logs_do_not_meet(ana):
    type_in(program(ana))
    assert type_in(program(athlete("ben")), minutes=50).status_code == 201


def test_a_key_opens_nothing_to_a_token_that_may_only_read(ana):
    assert type_in(program(ana, scope="read")).status_code == 403
    assert not UploadKey.objects.exists()


@pytest.mark.parametrize("key", ["", "k" * 201])
def test_a_key_that_cannot_be_is_refused(ana, key):
    assert type_in(program(ana, key)).status_code == 422


def test_a_key_is_remembered_for_a_day_and_swept_away(ana):
    type_in(program(ana))
    sweep()
    assert UploadKey.objects.exists()
    UploadKey.objects.update(asked_at=timezone.now() - timedelta(days=1))
    assert type_in(program(ana), start="2026-03-03T06:30:00Z").status_code == 201
    UploadKey.objects.update(asked_at=timezone.now() - timedelta(days=1))
    sweep()
    assert not UploadKey.objects.exists()
