"""Where one is signed in: listed, seen, ended."""

from datetime import timedelta

import pytest
from django.contrib.auth import SESSION_KEY
from django.test import Client
from django.utils import timezone

from tests.builders import athlete
from trainlog.models import SignIn
from trainlog.services import sign_ins
from trainlog.web.browsers import browser_in_words
from trainlog.web.sign_ins import NAMED

pytestmark = pytest.mark.django_db

PASSWORD = "a long password"
LINUX = "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0"
PHONE = (
    "Mozilla/5.0 (iPhone; CPU iPhone OS 18_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) "
    "Version/18.5 Mobile/15E148 Safari/604.1"
)


def browser(agent=LINUX, name="ana"):
    client = Client(headers={"User-Agent": agent})
    client.post("/sign-in", {"username": name, "password": PASSWORD})
    return client


def is_signed_in(client):
    page, operation = client.get("/account").status_code, client.get("/api/workouts").status_code
    assert (page, operation) in {(200, 200), (302, 401)}
    return page == 200


def row_of(client):
    return SignIn.objects.get(pk=client.session[NAMED])


def test_each_browser_is_listed_with_this_one_marked_and_first(ana):
    here = browser(LINUX)
    elsewhere = browser(PHONE)
    elsewhere.get("/")
    shown = here.get("/account/sign-ins").content.decode()
    first, second = shown.index("Firefox on Linux"), shown.index("Safari on an iPhone")
    assert first < shown.index("this one") < second
    assert shown.count("this one") == 1
    assert "2 browsers" in here.get("/account").content.decode()


def test_the_row_holds_nothing_that_opens_the_session_and_no_address(ana):
    here = browser()
    values = {str(value) for value in SignIn.objects.values_list().get()}
    assert not values & {here.session.session_key, here.cookies["sessionid"].value, "127.0.0.1"}
    assert set(SignIn.objects.values().get()) == {
        *("id", "owner_id", "browser", "began_at", "last_seen_at", "with_code"),
    }


def test_one_that_is_ended_has_to_sign_in_again_and_the_others_go_on(ana):
    here, there, third = browser(), browser(PHONE), browser()
    here.post(f"/account/sign-ins/{row_of(there).pk}/end")
    assert [is_signed_in(each) for each in (here, there, third)] == [True, False, True]
    assert SESSION_KEY not in there.session


def test_all_others_can_be_ended_at_once(ana):
    here, there, third = browser(), browser(PHONE), browser()
    shown = here.post("/account/sign-ins/end-others", follow=True).content.decode()
    assert "2 other sign-ins are ended" in shown
    assert [is_signed_in(each) for each in (here, there, third)] == [True, False, False]


def test_ending_ones_own_leads_to_the_sign_in(ana):
    here = browser()
    answer = here.post(f"/account/sign-ins/{row_of(here).pk}/end", follow=True)
    assert answer.redirect_chain[-1][0].startswith("/sign-in")


def test_those_of_another_person_are_neither_shown_nor_ended(ana):
    athlete("ben")
    here, theirs = browser(), browser(PHONE, "ben")
    assert "iPhone" not in here.get("/account/sign-ins").content.decode()
    assert here.post(f"/account/sign-ins/{row_of(theirs).pk}/end").status_code == 404
    here.post("/account/sign-ins/end-others")
    assert is_signed_in(theirs)


def test_a_new_password_ends_the_others(ana):
    here, there = browser(), browser(PHONE)
    new = "another long one 7"
    here.post("/account/password", {"old_password": PASSWORD, "new_password1": new, "new_password2": new})
    assert [is_signed_in(each) for each in (here, there)] == [True, False]
    assert SignIn.objects.get() == row_of(here)


def test_signing_out_takes_it_off_the_list(ana):
    here = browser()
    here.post("/sign-out")
    assert not SignIn.objects.exists()


def test_signing_in_again_in_the_same_browser_adds_no_second_line(ana):
    here = browser()
    here.post("/sign-in", {"username": "ana", "password": PASSWORD})
    assert SignIn.objects.get() == row_of(here)


def test_last_seen_is_written_at_most_once_a_minute(ana):
    here = browser()
    row = row_of(here)
    here.get("/method")
    assert row_of(here).last_seen_at == row.last_seen_at
    earlier = timezone.now() - timedelta(minutes=2)
    SignIn.objects.update(last_seen_at=earlier)
    here.get("/method")
    assert row_of(here).last_seen_at > earlier + timedelta(minutes=1)


def test_it_runs_out_however_much_it_is_used(ana):
    here = browser()
    SignIn.objects.update(began_at=timezone.now() - sign_ins.LASTS - timedelta(seconds=1))
    assert not is_signed_in(here)


def test_those_that_have_run_out_are_not_listed_and_forgotten_at_the_next_sign_in(ana):
    browser(PHONE)
    SignIn.objects.update(began_at=timezone.now() - sign_ins.LASTS)
    here = browser()
    assert "iPhone" not in here.get("/account/sign-ins").content.decode()
    assert SignIn.objects.get() == row_of(here)


def test_a_session_of_the_version_before_is_noted_when_it_comes_again(ana):
    here = browser()
    session = here.session
    del session[NAMED]
    session.save()
    SignIn.objects.all().delete()
    assert is_signed_in(here)
    assert row_of(here).browser == "Firefox on Linux"


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (LINUX, "Firefox on Linux"),
        (PHONE, "Safari on an iPhone"),
        ("Mozilla/5.0 (Windows NT 10.0) Chrome/140.0 Safari/537.36 Edg/140.0", "Edge on Windows"),
        ("Mozilla/5.0 (Linux; Android 15) Chrome/140.0 Mobile Safari/537.36", "Chrome on Android"),
        ("Mozilla/5.0 (Windows NT 10.0)", "a browser on Windows"),
        ("curl/8.5.0", "curl/8.5.0"),
        ("<b>" + "x" * 300, "<b>" + "x" * 37),
        ("\x00\n\u202e", "a browser that does not say which"),
        ("", "a browser that does not say which"),
    ],
)
def test_a_browser_is_told_in_words_that_fit_its_column(agent, words):
    assert browser_in_words(agent) == words
    assert len(words) <= SignIn._meta.get_field("browser").max_length
