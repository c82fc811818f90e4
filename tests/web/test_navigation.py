import pytest

from tests import builders
from trainlog.models import Stay
from trainlog.services.stays import save_stay

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(client):
    owner = builders.athlete()
    client.force_login(owner.user)
    return owner


def here(client, address):
    shown = client.get(address).content.decode()
    (marked,) = [line for line in shown.splitlines() if 'aria-current="page"' in line]
    return marked.split(">")[2].split("<")[0]


@pytest.mark.parametrize(
    ("address", "page"),
    [
        ("/", "Log"),
        ("/workouts/new", "Log"),
        ("/files/progress", "Log"),
        ("/check-in", "Morning"),
        ("/recovery", "Morning"),
        ("/recovery/claimed", "Morning"),
        ("/week", "Week"),
        ("/week/2026-11-16", "Week"),
        ("/week/2026-11-16/plan", "Week"),
        ("/trend", "Trend"),
        ("/calendar", "Calendar"),
        ("/calendar/2026-11", "Calendar"),
        ("/calendar/years", "Calendar"),
        ("/sensors/", "Sensors"),
        ("/strap-plan", "Sensors"),
        ("/method", "Method"),
        ("/account", "Account"),
        ("/account/stays", "Account"),
        ("/account/activity", "Account"),
        ("/account/physiology", "Account"),
        ("/account/programs", "Account"),
        ("/account/delete", "Account"),
        ("/demo", "Account"),
    ],
)
def test_the_navigation_marks_the_page_one_is_on(client, ana, address, page):
    assert here(client, address) == page


def test_a_stay_belongs_to_the_account(client, ana):
    stay = save_stay(ana, Stay(time_zone="Asia/Tokyo", first_day="2026-11-09", last_day="2026-11-15"))
    assert here(client, f"/account/stays/{stay.pk}") == "Account"
