"""What a browser is told by a log under an https address: a specification of headers and cookies."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.test import Client

from tests.builders import athlete, csv_file, imported
from trainlog.services.tokens import make_token

pytestmark = pytest.mark.django_db

PROJECT = Path(__file__).resolve().parents[2]
HOST = "log.example.org"
PASSWORD = "a long password"
DEPENDING_ON_THE_ADDRESS = (
    *("ALLOWED_HOSTS", "CSRF_TRUSTED_ORIGINS", "SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE"),
    *("SECURE_HSTS_SECONDS", "SECURE_PROXY_SSL_HEADER"),
)


def in_an_installation(folder, *arguments):
    environment = {name: value for name, value in os.environ.items() if not name.startswith("TRAINLOG_")}
    environment |= {
        "DJANGO_SETTINGS_MODULE": "trainlog.settings",
        "TRAINLOG_DATA_FOLDER": str(folder),
        "TRAINLOG_BASE_URL": f"https://{HOST}",
        "TRAINLOG_SECRET_KEY": "an installation has one of sixty-four random letters or so " * 2,
    }
    return subprocess.run(
        [sys.executable, *arguments],
        cwd=PROJECT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


@pytest.fixture(scope="module")
def of_an_installation(tmp_path_factory):
    """Settings that follow from an https address."""
    code = f"""
import json
from trainlog import settings
print(json.dumps({{name: getattr(settings, name) for name in {DEPENDING_ON_THE_ADDRESS!r}}}))
"""
    ran = in_an_installation(tmp_path_factory.mktemp("https"), "-c", code)
    assert ran.returncode == 0, ran.stderr
    return json.loads(ran.stdout)


@pytest.fixture
def site(settings, of_an_installation, tmp_path):
    """The site as an installation under an https address runs it."""
    settings.DATA_FOLDER = tmp_path
    for name, value in of_an_installation.items():
        setattr(settings, name, tuple(value) if name == "SECURE_PROXY_SSL_HEADER" else value)
    return settings


def browser(**options):
    return Client(headers={"Host": HOST, "X-Forwarded-Proto": "https"}, **options)


@pytest.fixture
def ana(site):
    return athlete()


@pytest.fixture
def signed_in(ana):
    client = browser()
    client.post("/sign-in", {"username": "ana", "password": PASSWORD})
    return client


def directives(answer):
    parts = [part.split() for part in answer["Content-Security-Policy"].split(";") if part.strip()]
    return {part[0]: part[1:] for part in parts}


def test_the_check_before_an_installation_goes_out_finds_nothing(tmp_path):
    ran = in_an_installation(tmp_path, "manage.py", "check", "--deploy", "--fail-level", "WARNING")
    assert ran.returncode == 0, ran.stderr


def test_cookies_go_over_tls_alone_and_not_along_with_other_sites_requests(signed_in):
    for name in ("sessionid", "csrftoken"):
        cookie = signed_in.cookies[name]
        assert cookie["secure"]
        assert cookie["samesite"] == "Lax"
        assert not cookie["domain"]
    assert signed_in.cookies["sessionid"]["httponly"]


def test_the_browser_is_told_to_come_by_tls_for_a_year(site):
    assert browser().get("/sign-in")["Strict-Transport-Security"] == "max-age=31536000"


@pytest.mark.parametrize("host", ["elsewhere.example", f"{HOST}.elsewhere.example", "192.0.2.7"])
def test_another_host_name_is_refused(site, host):
    assert Client(headers={"Host": host}).get("/sign-in").status_code == 400


@pytest.mark.parametrize("address", ["/", "/sign-in", "/health", "/no-such-page", "/api/workouts"])
def test_every_answer_says_what_the_browser_may_do(signed_in, address):
    answer = signed_in.get(address)
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["X-Frame-Options"] == "DENY"
    assert answer["Referrer-Policy"] == "same-origin"
    assert answer["Cross-Origin-Opener-Policy"] == "same-origin"
    for power in ("camera", "microphone", "geolocation", "payment", "usb"):
        assert f"{power}=()" in answer["Permissions-Policy"]


def test_scripts_and_styles_come_from_the_site_alone_and_none_is_inline(site):
    told = directives(browser().get("/sign-in"))
    assert told["default-src"] == ["'none'"]
    for kind in ("script-src", "style-src", "font-src", "connect-src", "form-action"):
        assert told[kind] == ["'self'"]
    assert told["img-src"] == ["'self'", "data:"]
    assert told["frame-ancestors"] == told["base-uri"] == ["'none'"]


@pytest.mark.parametrize(
    "address",
    [
        *("/", "/week", "/trend", "/check-in", "/calendar", "/sensors/", "/account", "/account/sign-ins"),
        *("/account/privacy", "/export/workouts.csv", "/plan.ics", "/account/take/whole", "/api/workouts"),
    ],
)
def test_no_browser_and_no_proxy_keeps_a_page_of_somebodys_log(signed_in, address):
    answer = signed_in.get(address)
    assert answer.status_code == 200
    assert {"no-store", "private"} <= {word.strip() for word in answer["Cache-Control"].split(",")}


def test_nor_an_original_file(signed_in, ana):
    row = imported(ana, csv_file(), "a.csv")
    answer = signed_in.get(f"/files/{row.pk}/original")
    assert answer.status_code == 200
    assert "no-store" in answer["Cache-Control"]


def test_nor_what_a_program_got(ana):
    secret = make_token(ana, "a program", "read", 30).secret
    answer = browser().get("/api/workouts", headers={"Authorization": f"Bearer {secret}"})
    assert answer.status_code == 200
    assert "no-store" in answer["Cache-Control"]


def test_a_form_of_another_site_is_refused(ana):
    client = browser(enforce_csrf_checks=True)
    client.get("/sign-in")
    fields = {"username": "ana", "password": PASSWORD}
    fields["csrfmiddlewaretoken"] = client.cookies["csrftoken"].value
    refused = client.post("/sign-in", fields, headers={"Origin": "https://elsewhere.example"})
    assert refused.status_code == 403
    accepted = client.post("/sign-in", fields, headers={"Origin": f"https://{HOST}"})
    assert accepted.status_code == 302


def test_a_form_without_its_token_is_refused_on_pages_and_api(ana):
    client = browser(enforce_csrf_checks=True)
    client.force_login(ana.user)
    referer = {"Referer": f"https://{HOST}/"}
    assert client.post("/account/sign-ins/end-others", headers=referer).status_code == 403
    answer = client.post("/api/workouts", "{}", content_type="application/json", headers=referer)
    assert answer.status_code == 403
