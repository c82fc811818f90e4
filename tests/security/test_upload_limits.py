"""How much a request may bring: what is too large is refused before it is read."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile, TemporaryUploadedFile
from django.test import Client
from django.test.client import MULTIPART_CONTENT

from tests.builders import athlete
from trainlog.models import Recording

pytestmark = pytest.mark.django_db

MEGABYTE = 2**20


class Unread:
    """A body that must not be read."""

    def __init__(self):
        self.was_read = 0

    def read(self, size=-1):
        self.was_read += 1
        return b""

    readline = read


@pytest.fixture
def signed_in(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path
    client = Client(raise_request_exception=False)
    client.force_login(athlete().user)
    return client


def send(client, path, size, content_type, **extra):
    """Send a body that says how long it is; the answer, and how often the body was read."""
    body = Unread()
    answer = client.generic(
        "POST",
        path,
        "",
        content_type,
        CONTENT_LENGTH=str(size),
        CONTENT_TYPE=content_type,
        **{"wsgi.input": body},
        **extra,
    )
    return answer, body.was_read


@pytest.mark.parametrize("path", ["/files", "/account/take/import", "/api/files"])
def test_a_body_that_says_it_is_too_long_is_not_read_at_all(signed_in, settings, path):
    answer, reads = send(signed_in, path, settings.MAX_BODY_BYTES + 1, MULTIPART_CONTENT)
    assert (answer.status_code, reads) == (413, 0)
    assert "1.02e+03" not in answer.content.decode()


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/api/workouts", "application/json"),
        ("/check-in", "application/x-www-form-urlencoded"),
        ("/api/workouts", "text/plain"),
    ],
)
def test_what_is_no_file_may_hold_little(signed_in, settings, path, kind):
    answer, reads = send(signed_in, path, settings.DATA_UPLOAD_MAX_MEMORY_SIZE + 1, kind)
    assert (answer.status_code, reads) == (413, 0)


def test_a_program_is_told_in_the_form_of_every_problem(signed_in, settings):
    answer, _ = send(signed_in, "/api/workouts", 10 * MEGABYTE, "application/json")
    assert answer["Content-Type"] == "application/problem+json"
    assert answer.json() == {
        "type": "/api/v1/problems#too-large",
        "title": "Too large",
        "status": 413,
        "detail": "Send at most 2.5 MB in one request.",
    }


def test_a_visitor_cannot_fill_the_disk_before_anyone_asks_who_it_is(signed_in):
    answer, reads = send(Client(), "/files", 100 * MEGABYTE, MULTIPART_CONTENT)
    assert (answer.status_code, reads) == (413, 0)
    answer, reads = send(Client(), "/api/files", 100 * MEGABYTE, MULTIPART_CONTENT)
    assert (answer.status_code, reads) == (401, 0)


@pytest.mark.parametrize("path", ["/files", "/api/files"])
def test_a_file_over_the_limit_stays_on_the_disk_and_is_refused_in_words(
    signed_in, settings, monkeypatch, path
):
    settings.MAX_FILE_BYTES = 2 * MEGABYTE
    monkeypatch.setattr(TemporaryUploadedFile, "read", lambda *_: pytest.fail("read into memory"))
    large = SimpleUploadedFile("large.csv", b"x" * (settings.MAX_FILE_BYTES + 1))
    answer = signed_in.post(path, {"files": [large]}, follow=True)
    assert "2 MB" in answer.content.decode()
    assert not Recording.objects.exists()


@pytest.mark.parametrize(("path", "status"), [("/files", 400), ("/api/files", 413)])
def test_more_files_than_are_taken_at_once_are_refused_together(signed_in, settings, path, status):
    settings.DATA_UPLOAD_MAX_NUMBER_FILES = settings.MAX_FILES_AT_ONCE = 3
    files = [SimpleUploadedFile(f"{number}.csv", b"x") for number in range(4)]
    assert signed_in.post(path, {"files": files}).status_code == status
    assert not Recording.objects.exists()


def test_a_form_of_very_many_fields_is_refused(signed_in):
    fields = {f"field-{number}": "x" for number in range(1001)}
    assert signed_in.post("/check-in", fields).status_code == 400
