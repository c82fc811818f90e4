"""Two pages open on the same thing: the second to be saved overwrites nothing that it has not shown."""

# mypy: disable-error-code="union-attr"

import threading
from datetime import timedelta
from html.parser import HTMLParser

import pytest
from django.db import connection
from django.test import Client
from django.urls import resolve

from tests.builders import MORNING, activity_of, athlete, part, sensor
from tests.full_log import full_log
from tests.test_ownership import ADDRESSES, filled, rows_named
from trainlog.models import (
    CheckIn,
    Deletion,
    LiftSet,
    Part,
    Physiology,
    PlannedSession,
    Recording,
    Sensor,
    Stay,
    Workout,
)
from trainlog.services.edit_workout import split_part

EDITS = {
    # By the name of the address that a form posts to: the page that shows it, what one changes there, what
    # the other.
    "note": ("/workouts/{workout}", {"note": "felt light"}, {"note": "felt heavy"}),
    "part_activity": ("/workouts/{workout}", {"activity": "ride"}, {"activity": "row"}),
    "part_session_rpe": ("/workouts/{workout}", {"session_rpe": "4"}, {"session_rpe": "7.5"}),
    "part_boundary": ("/workouts/{workout}", {"minutes": "4:00"}, {"minutes": "6:00"}),
    "change_set": ("/sets/{set}", {"kilograms": "60"}, {"kilograms": "80"}),
    "claimed_recovery": ("/workouts/{workout}", {"hours": "30"}, {"hours": "40"}),
    "choose_sensor": ("/workouts/{workout}", {"sensor": "other"}, {"sensor": ""}),
    "set_clock": ("/workouts/{workout}", {"clock": "synchronised"}, {"clock": "free"}),
    "edit_sensor": ("/sensors/{sensor}", {"name": "left wrist"}, {"name": "right wrist"}),
    "sensor_firmware": ("/sensors/{sensor}", {"version": "7"}, {"version": "8"}),
    "physiology": ("/account/physiology?row={row}", {"resting_rate": "48"}, {"resting_rate": "52"}),
    "week_plan": ("/week/{day}", {"low": "20"}, {"low": "30"}),
    "planned_session": ("/planned/{planned}", {"minutes": "30"}, {"minutes": "60"}),
    "check_in": ("/check-in?day={day}", {"resting_rate": "47"}, {"resting_rate": "57"}),
    "stay": ("/account/stays/{stay}", {"time_zone": "Asia/Tokyo"}, {"time_zone": "Europe/Lisbon"}),
    "settings": ("/account/settings", {"near_per_cent": "5"}, {"near_per_cent": "20"}),
    "choose_measure": ("/account/measure", {"measure": "zones"}, {"measure": "session_rpe"}),
    "care": ("/account/care", {"pacemaker": "on"}, {"slowing_medicine": "on"}),
    "trend_spans": ("/trend", {"acute_days": "5"}, {"acute_days": "9"}),
}
DELETIONS = {"delete_workout", "delete_check_in"}
"""Asked first; the page that asks says what it has shown."""

NOTHING_TO_OVERWRITE = {
    "add": {
        *("add_files", "add_set", "new_session", "new_sensor", "new_stay", "new_activity", "typed_workout"),
        *("mark_unknown", "same_again", "reports", "programs", "import_all", "demo"),
    },
    "remove, and it can be put back": {
        *("delete_set", "delete_session", "delete_stay", "delete_recording", "unmark_unknown", "put_back"),
        *("delete_report", "revoke_token", "remove_demo", "delete_for_good", "delete_everything"),
    },
    "say where one acts, on whatever is there": {"part_split", "part_join", "several", "read_again"},
    "concern the sign-in or what is looked at": {
        *("sign_in", "sign_out", "password", "leave_demo", "decline_offer"),
        *("second_step", "end_sign_in", "end_other_sign_ins"),
    },
}


class Forms(HTMLParser):
    """Forms of a page that post: the address, and the fields as a browser would send them."""

    def __init__(self, page, path):
        super().__init__()
        self.found, self._select, self._area = [], None, None
        self._path = path
        self.feed(page)

    def handle_starttag(self, tag, attributes):
        said = dict(attributes)
        if tag == "form":
            self._fields = {}
            if said.get("method") == "post":
                self.found.append((said.get("action") or self._path, self._fields))
        elif not self.found or not hasattr(self, "_fields"):
            return
        elif tag == "input" and said.get("name"):
            if said.get("type") not in {"checkbox", "radio", "file"} or "checked" in said:
                self._fields[said["name"]] = said.get("value", "on" if "checked" in said else "")
        elif tag == "select":
            self._select = said["name"]
        elif tag == "option" and self._select and ("selected" in said or self._select not in self._fields):
            self._fields[self._select] = said.get("value", "")
        elif tag == "textarea":
            self._area = said["name"]
            self._fields[self._area] = ""

    def handle_data(self, data):
        if self._area:
            # A browser drops the line break that follows the tag.
            self._fields[self._area] += data.removeprefix("\n")

    def handle_endtag(self, tag):
        if tag == "select":
            self._select = None
        elif tag == "textarea":
            self._area = None


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path


@pytest.fixture
def ana(db):
    owner = full_log("ana", "ana")
    sensor(owner, "another")
    first = Part.objects.of(owner).first()
    split_part(first, first.start + timedelta(minutes=5))
    return owner


@pytest.fixture
def browser(ana):
    client = Client()
    client.force_login(ana.user)
    return client


def page_of(owner, address):
    """Address with the keys of the owner's rows."""
    recording = Recording.objects.of(owner).filter(state="read").first()
    return address.format(
        workout=Workout.objects.of(owner).first().pk,
        set=LiftSet.objects.of(owner).first().pk,
        sensor=recording.sensor_id,
        row=Physiology.objects.of(owner).get().pk,
        planned=PlannedSession.objects.of(owner).first().pk,
        stay=Stay.objects.of(owner).first().pk,
        day=MORNING.date().isoformat(),
    )


def without_token(fields):
    return {name: value for name, value in fields.items() if name != "csrfmiddlewaretoken"}


def forms_of(answer, path):
    if answer.status_code not in {200, 409} or answer.streaming or "html" not in answer["Content-Type"]:
        return []
    return [
        (resolve(action.partition("?")[0]).url_name, action, without_token(fields))
        for action, fields in Forms(answer.content.decode(), path).found
    ]


def forms_shown(browser, owner):
    """Forms of every page of the site."""
    paths = [
        filled(address, [owner] * len(rows_named(address)))
        for address in ADDRESSES
        if not address.startswith("api/")
    ]
    paths += [page_of(owner, page) for page, _, _ in EDITS.values()]
    return [form for path in paths for form in forms_of(browser.get(path), path)]


def the_form(browser, owner, name, page=None):
    """Where a form posts to, and what stands in it."""
    path = page_of(owner, page or EDITS[name][0])
    found = [(action, fields) for named, action, fields in forms_of(browser.get(path), path) if named == name]
    return next((action, fields) for action, fields in found if "seen" in fields)


def values(owner, changes):
    """What a form sends for these changes."""
    changes = dict(changes)
    if "activity" in changes:
        changes["activity"] = str(activity_of(owner, changes["activity"]).pk)
    if changes.get("sensor"):
        changes["sensor"] = str(Sensor.objects.of(owner).last().pk)
    return changes


def test_every_form_of_the_site_is_known_to_edit_or_not_to(browser, ana):
    shown = {name for name, _, _ in forms_shown(browser, ana)}
    reasons = set().union(*NOTHING_TO_OVERWRITE.values())
    assert shown - reasons - DELETIONS == set(EDITS)


def test_every_form_that_edits_says_what_it_has_shown(browser, ana):
    silent = {name for name, _, fields in forms_shown(browser, ana) if "seen" not in fields}
    # A first row of physiology and a week without a plan have a form too, and nothing to overwrite.
    assert silent & (set(EDITS) | DELETIONS) <= {"physiology"}


@pytest.mark.parametrize("name", EDITS)
def test_a_change_that_was_not_seen_is_not_overwritten(browser, ana, name):
    one, other = (values(ana, changes) for changes in EDITS[name][1:])
    action, fields = the_form(browser, ana, name)
    assert browser.post(action, fields | one).status_code == 302
    _, there = the_form(browser, ana, name)
    answer = browser.post(action, fields | other)
    assert answer.status_code == 409
    assert "after you opened" in answer.content.decode()
    assert the_form(browser, ana, name)[1] == there


@pytest.mark.parametrize("name", EDITS)
def test_whoever_is_told_may_save_it_all_the_same(browser, ana, name):
    one, other = (values(ana, changes) for changes in EDITS[name][1:])
    action, fields = the_form(browser, ana, name)
    browser.post(action, fields | one)
    refused = browser.post(action, fields | other)
    again = next(
        shown
        for named, where, shown in forms_of(refused, action)
        if named == name and where == action and shown.get("fed_by") == fields.get("fed_by")
    )
    if name not in {"choose_sensor", "set_clock"}:
        # What was typed stands in the form; a choice from a list is said in words.
        assert {field: again.get(field) for field in other} == other
    assert browser.post(action, again | other).status_code == 302


@pytest.mark.parametrize("name", EDITS)
def test_the_same_sent_twice_is_no_conflict(browser, ana, name):
    one = values(ana, EDITS[name][1])
    action, fields = the_form(browser, ana, name)
    assert [browser.post(action, fields | one).status_code for _ in range(2)] == [302, 302]


@pytest.mark.parametrize("name", EDITS)
def test_a_program_that_says_nothing_of_what_it_saw_is_taken_at_its_word(browser, ana, name):
    one, other = (values(ana, changes) for changes in EDITS[name][1:])
    action, fields = the_form(browser, ana, name)
    browser.post(action, fields | one)
    del fields["seen"]
    assert browser.post(action, fields | other).status_code == 302


def test_both_values_stand_on_the_page(browser, ana):
    action, fields = the_form(browser, ana, "part_session_rpe")
    browser.post(action, fields | {"session_rpe": "4"})
    page = browser.post(action, fields | {"session_rpe": "7.5"}).content.decode()
    assert "Now it is “4.0”." in page
    assert 'value="7.5"' in page
    assert "Leave it as it is now" in page


def test_a_workout_that_was_changed_is_not_deleted_unseen(browser, ana):
    workout = Workout.objects.of(ana).first()
    action, fields = the_form(browser, ana, "delete_workout", "/workouts/{workout}/delete")
    Workout.objects.filter(pk=workout.pk).update(note="the best run of the year")
    refused = browser.post(action, fields)
    assert refused.status_code == 409
    assert "not deleted yet" in refused.content.decode()
    assert Workout.objects.filter(pk=workout.pk).exists()
    [(_, _, again)] = [form for form in forms_of(refused, action) if form[0] == "delete_workout"]
    assert browser.post(action, again).status_code == 302
    assert not Workout.objects.filter(pk=workout.pk).exists()


def test_a_morning_that_was_changed_is_not_deleted_unseen(browser, ana):
    action, fields = the_form(browser, ana, "delete_check_in", "/check-in/{day}/delete")
    CheckIn.objects.of(ana).update(fatigue=3)
    assert browser.post(action, fields).status_code == 409
    assert CheckIn.objects.of(ana).exists()


def test_a_workout_as_it_was_shown_is_deleted(browser, ana):
    action, fields = the_form(browser, ana, "delete_workout", "/workouts/{workout}/delete")
    assert browser.post(action, fields).status_code == 302
    assert Deletion.objects.of(ana).count() == 2


@pytest.mark.skipif(
    connection.vendor == "sqlite", reason="a SQLite database in memory is not for two threads that write"
)
@pytest.mark.django_db(transaction=True)
def test_of_two_saved_at_the_same_instant_one_is_told_of_the_other():
    owner = athlete()
    workout = part(owner).workout
    browsers = [Client(), Client()]
    for client in browsers:
        client.force_login(owner.user)
    path = f"/workouts/{workout.pk}"
    seen = [
        next(form for form in forms_of(client.get(path), path) if form[0] == "note")[2] for client in browsers
    ]
    together, answers = threading.Barrier(2), {}

    def save(place):
        together.wait()
        try:
            typed = seen[place] | {"note": f"note {place}"}
            answers[place] = browsers[place].post(f"{path}/note", typed).status_code
        finally:
            connection.close()

    threads = [threading.Thread(target=save, args=(place,)) for place in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    kept = next(place for place, status in answers.items() if status == 302)
    assert sorted(answers.values()) == [302, 409]
    workout.refresh_from_db()
    assert workout.note == f"note {kept}"
