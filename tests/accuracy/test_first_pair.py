from datetime import timedelta

import numpy as np
import pytest
from django.utils import timezone

from accuracy.models import Pair
from accuracy.services.learn import learn
from fixtures import csv_writer
from tests.builders import MORNING, equipped_athlete, imported
from trainlog.readers.reading import Segment
from trainlog.trace import Trace
from trainlog.web import log

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]

HTMX = {"HX-Request": "true"}
ASKED = 'hx-get="/sensors/first-pair"'


@pytest.fixture
def ana(client):
    owner = equipped_athlete("ana", strap="belt", wrist="left wrist")
    client.force_login(owner.user)
    return owner


def session(owner, device, share):
    seconds = np.arange(1200)
    true = 120 + 30 * np.sin(2 * np.pi * seconds / 240)
    trace = Trace(start=MORNING, heart_rate=np.round(50 + share * (true - 50)))
    sport = [Segment(MORNING, trace.end, "running")]
    imported(owner, csv_writer.write(trace, device, sport), f"{device}.csv")


@pytest.fixture
def pair(ana):
    for device, share in (("strap", 1.0), ("wrist", 0.9)):
        session(ana, device, share)
    while not learn(ana):
        pass
    return Pair.objects.get()


def told(client):
    return client.get("/sensors/first-pair", headers=HTMX).content.decode()


def test_the_log_tells_of_the_first_pair_with_the_way_to_it(client, pair):
    assert ASKED in client.get("/").content.decode()
    shown = told(client)
    assert "You have a first pair:" in shown
    assert "left wrist" in shown
    assert f'href="/sensors/pairs/{pair.pk}"' in shown
    assert 'href="/sensors/"' in shown


def test_it_is_told_once(client, pair, monkeypatch):
    told(client)
    assert ASKED in client.get("/").content.decode()
    later = timezone.now() + timedelta(minutes=11)
    monkeypatch.setattr(log.time, "time", later.timestamp)
    assert ASKED not in client.get("/").content.decode()


def test_a_pair_that_was_set_aside_is_said_to_be_with_the_reason(client, pair):
    Pair.objects.update(usable=False, remarks=["Too few common seconds."])
    shown = told(client)
    assert "was set aside" in shown
    assert "Too few common seconds." in shown


def test_nothing_is_told_before_there_is_a_pair(client, ana):
    assert told(client).strip() == ""
    assert ASKED not in client.get("/").content.decode()
    assert client.get("/sensors/first-pair")["Location"] == "/sensors/"


def test_without_scripts_the_link_leads_to_the_pair(client, pair):
    assert client.get("/sensors/first-pair")["Location"] == f"/sensors/pairs/{pair.pk}"
