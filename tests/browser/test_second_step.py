"""A second step set up and taken in a browser: the code that changes, and one that counts once."""

from __future__ import annotations

import time

import pytest
from playwright.sync_api import expect

from tests.browser.test_journey import assert_sound, sign_in
from tests.second_steps import code_of

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.parametrize("page", [390, 1280], indirect=True),
]


def test_it_is_set_up_and_a_one_time_code_signs_in(page, live_server, ana):
    sign_in(page, live_server)
    page.goto(f"{live_server.url}/account")
    page.get_by_role("link", name="Second step").click()
    expect(page.get_by_role("heading", name="Second step")).to_be_visible()
    assert_sound(page)
    page.get_by_label("Your password").fill("a long password")
    page.get_by_role("button", name="Set it up").click()
    square = page.locator(".qr")
    expect(square).to_be_visible()
    box = square.bounding_box()
    assert box is not None
    assert box["width"] == pytest.approx(box["height"], abs=1)
    assert box["width"] > 180
    assert_sound(page)
    page.get_by_role("textbox", name="Code").fill(code_of(ana.user, time.time()))
    page.get_by_role("button", name="Turn it on").click()
    codes = page.locator(".one-time-codes code")
    expect(codes).to_have_count(10)
    assert_sound(page)
    code = codes.first.inner_text()
    page.get_by_role("button", name="Sign out").click()
    page.get_by_label("Username").fill("ana")
    page.get_by_label("Password").fill("a long password")
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="Second step")).to_be_visible()
    expect(page.get_by_role("navigation")).to_have_count(0)
    assert_sound(page)
    page.get_by_role("textbox", name="Code").fill(code)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{live_server.url}/")
    page.goto(f"{live_server.url}/account/second-step")
    expect(page.get_by_text("9 of 10")).to_be_visible()
    assert_sound(page)
