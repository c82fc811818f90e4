"""The guide to writing a client works as it stands."""

import re
from functools import partial
from pathlib import Path

import httpx
import pytest
from django.core.wsgi import get_wsgi_application
from django.test.utils import override_settings

from tests.builders import MORNING, csv_file, estimate
from trainlog.models import Part, Publication, Recording, Workout
from trainlog.services.import_files import read_recording
from trainlog.services.tokens import make_token

pytestmark = pytest.mark.django_db

GUIDE = Path(__file__).resolve().parents[2] / "docs/client.md"
BLOCKS = re.findall(r"^```python\n(.*?)^```", GUIDE.read_text(), re.MULTILINE | re.DOTALL)


def work_through_the_queue(_seconds):
    """What workers do while the guide's program waits."""
    for recording in Recording.objects.filter(state="received"):
        read_recording(recording.pk)
    for part in Part.objects.filter(estimates=None):
        estimate(part)


@pytest.fixture
def guide(ana, tmp_path, monkeypatch):
    """What the guide's program finds: a folder with files, the site, and a token."""
    (tmp_path / "training").mkdir()
    (tmp_path / "training" / "morning.csv").write_bytes(csv_file(MORNING, minutes=20))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("LOG_ADDRESS", "http://localhost")
    monkeypatch.setenv("LOG_TOKEN", make_token(ana, "guide", "write", 30).secret)
    monkeypatch.setattr("time.sleep", work_through_the_queue)
    transport = httpx.WSGITransport(app=get_wsgi_application())
    monkeypatch.setattr(httpx, "Client", partial(httpx.Client, transport=transport))
    Publication.objects.create(owner=ana, source="", parts=1, first_day=MORNING.date())
    with override_settings(DATA_FOLDER=tmp_path / "data"):
        yield {}


def test_every_block_of_the_guide_runs_in_order(guide, capsys):
    for block in BLOCKS:
        exec(compile(block, str(GUIDE), "exec"), guide)
    said = capsys.readouterr().out
    assert "morning.csv" in said
    assert list(guide["loads"]["load.median"]) == [100]
    assert len(guide["heart_rate"]) == 20 * 60
    assert Workout.objects.get().note == "windy"
    assert guide["first_day"] == MORNING.date().isoformat()
