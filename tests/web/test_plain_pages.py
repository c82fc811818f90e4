import pytest
from django.template.loader import render_to_string
from django.test import Client

from tests.builders import athlete
from trainlog.models.load_estimate import Basis

pytestmark = pytest.mark.django_db


def test_the_sign_in_page_needs_no_sign_in(client):
    shown = client.get("/sign-in").content.decode()
    assert "Username" in shown
    assert "<nav" not in shown


def test_a_wrong_password_is_explained(client):
    athlete()
    response = client.post("/sign-in", {"username": "ana", "password": "wrong"})
    assert "Please enter a correct" in response.content.decode()


def test_signing_in_leads_to_the_log(client):
    athlete()
    response = client.post("/sign-in", {"username": "ana", "password": "a long password"})
    assert response["Location"] == "/"


def test_the_method_says_what_the_numbers_cannot_do_and_when_to_stop(client):
    client.force_login(athlete().user)
    shown = client.get("/method").content.decode()
    for words in ("What the numbers cannot do", "chest pain", "Banister", "80%", "correlation ignores bias"):
        assert words in shown


def test_the_method_explains_every_basis(client):
    client.force_login(athlete().user)
    shown = client.get("/method").content.decode()
    for basis in Basis.values:
        assert f'<use href="#mark-{basis}"/>' in shown
        assert f'id="mark-{basis}"' in shown


def test_an_address_without_a_page_says_so_in_words(client):
    client.force_login(athlete().user)
    response = client.get("/no-such-page")
    assert response.status_code == 404
    assert "nothing at this address" in response.content.decode()


def test_a_form_without_its_token_says_what_to_do():
    client = Client(enforce_csrf_checks=True)
    response = client.post("/sign-in", {"username": "ana", "password": "x"})
    assert response.status_code == 403
    assert "could not be accepted" in response.content.decode()


def test_the_page_of_a_fault_needs_nothing_else():
    shown = render_to_string("500.html")
    assert "Something went wrong" in shown
    assert "/static/" not in shown


@pytest.mark.parametrize(
    "address",
    [
        "/",
        "/check-in",
        "/week",
        "/method",
        "/account",
        "/account/physiology",
        "/account/settings",
        "/account/password",
        "/account/privacy",
        "/account/programs",
        "/account/second-step",
        "/account/sign-ins",
        "/account/take",
        "/account/delete",
        "/account/care",
        "/demo",
        "/workouts/new",
        "/sensors/",
        "/strap-plan",
    ],
)
def test_pages_have_no_inline_style_or_script(client, address):
    client.force_login(athlete().user)
    shown = client.get(address).content.decode()
    assert " style=" not in shown
    assert "<style" not in shown
    assert " onclick=" not in shown
    assert "<script>" not in shown
