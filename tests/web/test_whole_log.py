"""The pages by which a whole log is taken along, imported and deleted."""

import io
import zipfile

import pytest
from django.contrib.auth import get_user_model
from django.core.files.uploadedfile import SimpleUploadedFile

from tests.builders import athlete, csv_file, imported, part
from trainlog.models import Athlete, Workout
from trainlog.services.demo import ask_for_demo

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]

PASSWORD = "a long password"


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def export(client):
    answer = client.get("/account/take/whole")
    assert answer["Content-Type"] == "application/zip"
    return answer.getvalue()


def upload(client, content):
    file = SimpleUploadedFile("whole.zip", content, content_type="application/zip")
    return client.post("/account/take/import", {"export": file}, follow=True)


def test_everything_is_handed_out_as_one_file_and_nothing_is_left_on_disk(client, ana, data_folder):
    imported(ana, csv_file())
    before = sorted(data_folder.rglob("*"))
    with zipfile.ZipFile(io.BytesIO(export(client))) as archive:
        assert "manifest.json" in archive.namelist()
    assert sorted(data_folder.rglob("*")) == before


def test_an_export_is_imported_into_an_empty_log_by_its_page(client, ana):
    imported(ana, csv_file())
    content = export(client)
    ben = athlete("ben")
    client.force_login(ben.user)
    assert "Import everything" in client.get("/account/take").content.decode()
    assert "1 workouts and 1 files are imported" in upload(client, content).content.decode()
    assert Workout.objects.of(ben).count() == 1


def test_a_log_in_use_offers_no_import_and_refuses_one(client, ana):
    part(ana)
    assert "Import everything" not in client.get("/account/take").content.decode()
    response = upload(client, export(client))
    assert response.status_code == 422
    assert "This log is not empty" in response.content.decode()


def test_a_file_that_is_no_export_is_refused_beside_its_field(client, ana):
    response = upload(client, b"no zip")
    assert response.status_code == 422
    assert "Nothing was imported" in response.content.decode()


def test_what_goes_is_said_before_it_goes(client, ana):
    imported(ana, csv_file())
    shown = client.get("/account/delete").content.decode()
    assert "<b>1 workout</b>" in shown
    assert "<b>1 file</b>" in shown
    assert "It cannot be undone" in shown


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"name": "ana", "password": "wrong"}, "not your password"),
        ({"name": "anna", "password": PASSWORD}, "not the name"),
        ({}, "This field is required"),
    ],
)
def test_nothing_goes_without_name_and_password(client, ana, fields, words):
    response = client.post("/account/delete", fields)
    assert response.status_code == 422
    assert words in response.content.decode()
    assert Athlete.objects.filter(pk=ana.pk).exists()
    assert client.get("/account").status_code == 200


def test_many_wrong_passwords_lock_the_deletion_as_they_do_the_sign_in(client, ana, settings):
    settings.AXES_FAILURE_LIMIT = 2
    for _ in range(3):
        client.post("/account/delete", {"name": "ana", "password": "wrong"})
    client.post("/account/delete", {"name": "ana", "password": PASSWORD})
    assert Athlete.objects.filter(pk=ana.pk).exists()


def test_everything_goes_the_proof_is_shown_and_one_is_signed_out(client, ana):
    imported(ana, csv_file())
    shown = client.post("/account/delete", {"name": "ana", "password": PASSWORD}).content.decode()
    assert "Nothing is left" in shown
    assert "Original files on disk: 0" in shown
    assert not get_user_model().objects.exists()
    assert client.get("/account").status_code == 302


@pytest.mark.parametrize("name", ["take", "take/whole", "delete", "password", "programs"])
def test_pages_about_ones_own_log_are_kept_apart_from_the_demo(client, ana, name):
    ask_for_demo(ana.user)
    client.post("/demo")
    assert "This page is about your own log" in client.get(f"/account/{name}").content.decode()
    assert client.post(f"/account/{name}").status_code in {405, 409}
