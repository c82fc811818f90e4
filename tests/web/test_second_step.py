"""The second step of the sign-in, as a person meets it."""

import re

import pytest
from django.core.management import call_command
from django.test import Client
from django_otp.plugins.otp_static.models import StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from tests.builders import athlete
from tests.second_steps import Clock, turn_on
from trainlog.models import SignIn
from trainlog.services import second_step
from trainlog.services.tokens import make_token

pytestmark = pytest.mark.django_db

PASSWORD = "a long password"
PAGE, CODE = "/account/second-step", "/sign-in/code"


@pytest.fixture
def clock(monkeypatch):
    clock = Clock()
    monkeypatch.setattr("django_otp.plugins.otp_totp.models.time", clock)
    return clock


@pytest.fixture
def impatient(settings):
    """Codes may follow wrong ones at once, where the wait is not what is meant."""
    settings.OTP_TOTP_THROTTLE_FACTOR = settings.OTP_STATIC_THROTTLE_FACTOR = 0


@pytest.fixture
def codes(ana, clock):
    """Ana's sign-in asks for a code; her one-time codes."""
    return turn_on(ana.user, clock)


def give_password(client, path="/sign-in"):
    return client.post(path, {"username": "ana", "password": PASSWORD})


def is_signed_in(client):
    page, operation = client.get("/account").status_code, client.get("/api/workouts").status_code
    assert (page, operation) in {(200, 200), (302, 401)}
    return page == 200


def test_without_a_second_step_the_password_is_enough(client, ana):
    assert give_password(client)["Location"] == "/"
    assert is_signed_in(client)


def test_it_is_set_up_with_the_password_and_a_code_of_the_new_key(client, ana, clock):
    client.force_login(ana.user)
    shown = client.post(PAGE, {"do": "begin", "password": PASSWORD}).content.decode()
    assert 'class="qr"><path' in shown
    assert second_step.written_key(TOTPDevice.objects.get()) in shown
    assert " style=" not in shown
    assert not second_step.is_on(ana.user)
    response = client.post(PAGE, {"do": "confirm", "code": clock.code(ana.user)})
    assert "no-store" in response["Cache-Control"]
    kept = re.findall(r"<code>(\w{4} \w{4})</code>", response.content.decode())
    assert len(set(kept)) == 10
    assert second_step.is_on(ana.user)
    assert is_signed_in(client)
    after = client.get(PAGE).content.decode()
    assert "<b>10 of 10</b>" in after
    assert not any(code in after for code in kept)


def test_the_key_is_drawn_so_that_an_authenticator_takes_it_for_this_log(ana):
    second_step.begin(ana.user)
    address = second_step.begun(ana.user).config_url
    key = second_step.written_key(second_step.begun(ana.user)).replace(" ", "")
    assert address.startswith("otpauth://totp/Training%20log%3Aana?")
    assert f"secret={key}&" in address


def test_a_wrong_password_makes_no_key(client, ana):
    client.force_login(ana.user)
    response = client.post(PAGE, {"do": "begin", "password": "wrong"})
    assert response.status_code == 422
    assert not TOTPDevice.objects.exists()


def test_a_wrong_code_leaves_it_off(client, ana, clock):
    client.force_login(ana.user)
    client.post(PAGE, {"do": "begin", "password": PASSWORD})
    response = client.post(PAGE, {"do": "confirm", "code": "12345"})
    assert response.status_code == 422
    assert "not right" in response.content.decode()
    assert not second_step.is_on(ana.user)


def test_setting_it_up_signs_everybody_else_out(client, ana, clock):
    elsewhere = Client()
    give_password(elsewhere)
    client.force_login(ana.user)
    client.post(PAGE, {"do": "begin", "password": PASSWORD})
    client.post(PAGE, {"do": "confirm", "code": clock.code(ana.user)})
    assert is_signed_in(client)
    assert not is_signed_in(elsewhere)


def test_after_the_password_a_code_is_asked_for_and_until_then_nothing_opens(client, ana, codes, clock):
    assert give_password(client)["Location"] == f"{CODE}?next=%2F"
    assert not is_signed_in(client)
    assert client.get("/week?x=1")["Location"] == f"{CODE}?next=/week%3Fx%3D1"
    assert client.post(PAGE, {"do": "off"}).status_code == 302
    assert not SignIn.objects.exists()
    assert client.post(CODE, {"code": clock.code(ana.user)})["Location"] == "/"
    assert is_signed_in(client)


def test_one_comes_to_the_page_that_was_wanted_and_to_no_other_site(client, ana, codes, clock):
    address = give_password(client, "/sign-in?next=/week")["Location"]
    assert address == f"{CODE}?next=%2Fweek"
    assert 'name="next" value="/week"' in client.get(address).content.decode()
    answer = client.post(address, {"code": clock.code(ana.user), "next": "https://elsewhere.example/"})
    assert answer["Location"] == "/"


def test_the_session_gets_another_key_with_the_code(client, ana, codes, clock):
    give_password(client)
    before = client.session.session_key
    client.post(CODE, {"code": clock.code(ana.user)})
    assert client.session.session_key != before


def test_a_code_counts_once(ana, codes, clock):
    code = clock.code(ana.user)
    for expected in (302, 422):
        client = Client()
        give_password(client)
        assert client.post(CODE, {"code": code}).status_code == expected


def test_a_one_time_code_counts_once_however_it_is_written(ana, codes):
    written = codes[0].upper().replace(" ", "-")
    for expected in (302, 422):
        client = Client()
        give_password(client)
        assert client.post(CODE, {"code": written}).status_code == expected
    assert second_step.codes_left(ana.user) == 9


def test_a_code_of_another_person_is_wrong(client, ana, codes, clock, impatient):
    ben = athlete("ben")
    theirs = turn_on(ben.user, clock)
    give_password(client)
    for code in (clock.code(ben.user), theirs[0]):
        assert client.post(CODE, {"code": code}).status_code == 422
    assert not is_signed_in(client)


def test_after_a_wrong_code_the_next_has_to_wait_even_if_it_is_right(client, ana, codes, clock):
    give_password(client)
    client.post(CODE, {"code": "000000"})
    response = client.post(CODE, {"code": clock.code(ana.user)})
    assert "Wait 1 s" in response.content.decode()
    assert not is_signed_in(client)


def test_many_wrong_codes_lock_as_wrong_passwords_do(client, ana, codes, clock, impatient, settings):
    give_password(client)
    for _ in range(settings.AXES_FAILURE_LIMIT):
        response = client.post(CODE, {"code": "000000"})
    assert response.status_code == 429
    assert client.post(CODE, {"code": clock.code(ana.user)}).status_code == 429
    assert not is_signed_in(client)
    assert give_password(Client()).status_code == 429


def test_nobody_gets_to_the_code_without_the_password(client, ana, codes, clock):
    assert client.get(CODE)["Location"] == "/sign-in"
    assert client.post(CODE, {"code": clock.code(ana.user)})["Location"] == "/sign-in"
    assert not is_signed_in(client)


def test_a_session_from_before_the_second_step_counts_no_more(client, ana, clock):
    client.force_login(ana.user)
    turn_on(ana.user, clock)
    assert not is_signed_in(client)


def test_a_new_password_sends_away_who_had_given_the_old_one_and_no_code(client, ana, codes, clock):
    give_password(client)
    ana.user.set_password("another long one 7")
    ana.user.save()
    assert client.post(CODE, {"code": clock.code(ana.user)})["Location"] == "/sign-in"


def test_programs_with_a_token_are_asked_for_no_code(ana, codes):
    secret = make_token(ana, "a program", "read", 30).secret
    program = Client(headers={"Authorization": f"Bearer {secret}"})
    assert program.get("/api/workouts").status_code == 200


def signed_in_with_code(ana, clock):
    client = Client()
    give_password(client)
    client.post(CODE, {"code": clock.code(ana.user)})
    return client


def test_it_is_turned_off_with_the_password_and_a_code(ana, codes, clock, impatient):
    client = signed_in_with_code(ana, clock)
    for fields in (
        {"password": PASSWORD, "code": "000000"},
        {"password": "wrong", "code": clock.code(ana.user)},
        {"password": PASSWORD},
    ):
        assert client.post(PAGE, {"do": "off"} | fields).status_code == 422
        assert second_step.is_on(ana.user)
    client.post(PAGE, {"do": "off", "password": PASSWORD, "code": clock.code(ana.user)})
    assert not second_step.is_on(ana.user)
    assert not StaticToken.objects.exists()
    assert is_signed_in(client)


def test_a_wrong_password_uses_no_code_up(ana, codes, clock):
    client = signed_in_with_code(ana, clock)
    client.post(PAGE, {"do": "off", "password": "wrong", "code": codes[0]})
    assert second_step.codes_left(ana.user) == 10


def test_new_one_time_codes_take_the_place_of_the_old(ana, codes, clock):
    client = signed_in_with_code(ana, clock)
    fields = {"do": "codes", "password": PASSWORD, "code": codes[0]}
    shown = client.post(PAGE, fields).content.decode()
    new = re.findall(r"<code>(\w{4} \w{4})</code>", shown)
    assert len(new) == 10
    assert not set(new) & set(codes)
    assert second_step.codes_left(ana.user) == 10


def test_a_key_that_was_not_confirmed_is_asked_for_nothing(client, ana):
    second_step.begin(ana.user)
    give_password(client)
    assert is_signed_in(client)


def test_the_command_lets_someone_in_who_has_lost_everything(ana, codes, clock, capsys):
    old = signed_in_with_code(ana, clock)
    call_command("remove_second_step", "ana")
    assert "by the password alone" in capsys.readouterr().out
    assert not is_signed_in(old)
    client = Client()
    give_password(client)
    assert is_signed_in(client)


def test_the_command_says_where_there_is_nothing_to_remove(ana, capsys):
    call_command("remove_second_step", "ana")
    assert "has no second step" in capsys.readouterr().out
