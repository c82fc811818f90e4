"""What someone writes into a log is text, whatever it looks like."""

import pytest
from playwright.sync_api import expect

from tests.browser.test_journey import sign_in
from tests.builders import MORNING, part
from trainlog.services.check_in import save_check_in
from trainlog.services.edit_workout import set_note

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.parametrize("page", [1280], indirect=True),
]

MARKUP = (
    '<script>document.title="taken"</script><img src=x onerror="document.title=\'taken\'">'
    '<link rel="stylesheet" href="http://other.example/x.css">'
)


def test_markup_in_a_note_is_shown_and_neither_runs_nor_fetches(page, live_server, ana):
    workout = part(ana, MORNING).workout
    set_note(workout, MARKUP)
    save_check_in(ana, ana.today(), {"resting_rate": 50, "note": MARKUP[:200]})
    sign_in(page, live_server)
    elsewhere = []
    page.on(
        "request", lambda sent: None if sent.url.startswith(live_server.url) else elsewhere.append(sent.url)
    )
    for address in (f"/workouts/{workout.pk}", "/check-in", f"/week/{MORNING.date()}", "/", "/?text=script"):
        page.goto(live_server.url + address)
        expect(page.locator("h1").first).to_be_visible()
        assert page.title() != "taken", address
        assert page.locator("main :is(script:not([type='application/json']), link, img)").count() == 0, (
            address
        )
    assert elsewhere == []


def test_an_inline_script_is_refused_by_the_browser_itself(page, live_server, ana):
    sign_in(page, live_server)
    page.evaluate("""
        const script = document.createElement('script');
        script.textContent = 'document.title = "taken"';
        document.body.append(script);
    """)
    assert page.title() != "taken"
    assert any("Content Security Policy" in complaint for complaint in page.complaints)
    page.complaints.clear()
