"""Cells of the matrix: calibration, firmware, the drawn interval; and the same on a profile's page."""

import math
import re
from datetime import timedelta

import numpy as np
import pytest

from accuracy.core.agreement.firmware_history import firmware_histories
from accuracy.models import Fit
from accuracy.services.firmware_history import histories_of
from accuracy.shown import firmware
from accuracy.shown.bars import bars
from tests.accuracy.comparison_builders import worn
from tests.accuracy.pair_builders import athlete_with_physiology
from tests.accuracy.test_pair_page import words
from tests.accuracy.test_web import learned
from tests.builders import MORNING, activity_of, athlete, sensor
from trainlog.models import Firmware, Sensor
from trainlog.services.sensors import note_firmware

pytestmark = pytest.mark.django_db

SOON = (MORNING + timedelta(days=4)).date()


@pytest.fixture
def ana(client, settings, tmp_path):
    settings.DATA_FOLDER = tmp_path
    owner = athlete_with_physiology(athlete())
    client.force_login(owner.user)
    return owner


def with_two_versions(owner, before=(-20, -22, -21), after=(-2, -3, -4)):
    """A wrist sensor whose pairs read so many bpm off before and after a new version."""
    for day, offset in enumerate(before):
        worn(owner, day, left=offset)
    for day, offset in enumerate(after):
        worn(owner, 5 + day, left=offset)
    tested = Sensor.objects.of(owner).get(name="left")
    note_firmware(tested, "1.0", MORNING.date())
    note_firmware(tested, "2.0", SOON)
    return Sensor.objects.of(owner).prefetch_related("firmware").get(pk=tested.pk)


def text(client, address="/sensors/"):
    response = client.get(address)
    assert response.status_code == 200
    return words(response.content.decode())


def calibrated(tested, *scores):
    learned(tested.owner, tested)
    Fit.objects.of(tested.owner).update(calibration={"by_cell": {f"{tested.key}/run": list(scores)}})


def test_a_cell_says_how_many_of_its_left_out_pairs_the_intervals_held(client, ana):
    calibrated(sensor(ana), 0.1, -0.5, 1.2, 1.4)

    assert "4 pairs; held 3 of 4" in text(client)


def test_a_cell_that_was_never_foretold_says_nothing_of_it(client, ana):
    learned(ana, sensor(ana))

    assert "held 0" not in text(client)
    assert "; held" not in text(client)


def test_every_reading_is_drawn_on_one_scale(client, ana):
    tested = sensor(ana)
    learned(ana, tested)
    learned(ana, tested, "ride", ratio=1.0, ratio_low=0.9, ratio_high=1.05)
    content = client.get("/sensors/").content.decode()

    zeros = set(re.findall(r'<line class="zero" x1="([\d.]+)%', content))
    assert len(zeros) == 1


def test_a_new_version_that_changed_the_error_is_said_in_a_short_line(client, ana):
    tested = with_two_versions(ana)
    learned(ana, tested)

    assert re.search(r"\d+% low up to 1\.0, \d+% low since \(clear\)", text(client))


def test_versions_that_read_alike_are_not_mentioned(client, ana):
    learned(ana, with_two_versions(ana, after=(-20, -21, -22)))

    assert "up to 1.0" not in text(client)


def test_pairs_under_one_version_have_no_history(client, ana):
    worn(ana, 0, left=-2)
    tested = Sensor.objects.of(ana).prefetch_related("firmware").get(name="left")
    note_firmware(tested, "1.0", MORNING.date())

    assert histories_of(ana, Sensor.objects.of(ana).prefetch_related("firmware")) == {}


def test_pairs_are_told_apart_by_the_version_of_their_day(ana):
    tested = with_two_versions(ana, after=(-2, -3))

    (history,) = histories_of(ana, [tested]).values()

    assert [(one.version, one.pairs) for one in history.versions] == [("1.0", 3), ("2.0", 2)]
    assert history.versions[0].ratio > 1.2 > history.versions[1].ratio > 1


def test_without_physiology_there_is_no_load_to_compare(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path

    tested = with_two_versions(athlete())

    assert histories_of(tested.owner, [tested]) == {}


def test_the_page_of_a_cell_has_a_row_and_a_bar_for_each_version(client, ana):
    tested = with_two_versions(ana)
    address = f"/sensors/{tested.pk}/activities/{activity_of(ana, 'run').pk}"

    shown = text(client, address)

    assert "Under each firmware" in shown
    assert "1.0 from 2 Mar 2026" in shown
    assert "the first with pairs" in shown
    assert "clearly changed" in shown
    assert client.get(address).content.decode().count('class="spread"') == 2


def test_a_page_of_a_single_version_has_no_such_table(client, ana):
    worn(ana, 0, left=-2)
    tested = Sensor.objects.of(ana).get(name="left")

    assert "Under each firmware" not in text(
        client, f"/sensors/{tested.pk}/activities/{activity_of(ana, 'run').pk}"
    )


def history(before, after):
    return firmware_histories({"cell": [("1", before), ("2", after)]})["cell"]


@pytest.mark.parametrize(
    ("before", "after", "sure"),
    [
        ([0.30, 0.31, 0.32], [0.05, 0.06, 0.07], "clear"),
        ([0.05, 0.30, 0.55], [0.10, 0.25, 0.0], "may be chance"),
        ([0.30, 0.31], [0.05, 0.06], "few pairs"),
    ],
)
def test_the_short_line_says_how_sure_a_change_is(before, after, sure):
    assert firmware.brief(history(before, after)).endswith(f"({sure})")


def test_a_change_is_told_from_the_sensors_side():
    tested = Sensor(pk=1)
    tested._prefetched_objects_cache = {"firmware": [Firmware(version="2", from_day=SOON)]}

    _, line = firmware.lines(history([0.30, 0.31, 0.32], [0.05, 0.06, 0.07]), tested)

    higher = round(100 * (math.exp(0.25) - 1))
    assert line.change.startswith(f"clearly changed: {higher}% higher than before, 95% interval +")
    assert line.since == SOON


def test_bars_share_a_scale_that_holds_zero():
    one, other = bars([(-10, -5, -1), (-2, 3, 9)])

    assert one.zero == other.zero
    assert one.left < one.bias < one.zero
    assert other.left < other.zero < other.bias
    assert np.isclose(one.width / other.width, 9 / 11, rtol=0.01)


def test_an_interval_of_no_width_can_still_be_seen():
    (bar,) = bars([(4, 4, 4)])

    assert bar.width > 0
