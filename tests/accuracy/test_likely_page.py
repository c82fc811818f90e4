"""What is told of a part where only the wrist was worn: its figures, and its likely-true heart rate."""

import re
from datetime import timedelta

import numpy as np
import pytest

from accuracy.models import Fit, Stretch
from accuracy.services.learn import learn
from accuracy.services.likely import likely_of
from fixtures import csv_writer
from tests.accuracy.pair_builders import athlete_with_physiology
from tests.builders import MORNING, athlete, imported
from trainlog.load.draws import interval
from trainlog.models import Basis, LoadEstimate, Part, Sensor
from trainlog.readers.reading import Segment
from trainlog.services.edit_workout import set_activity, split_part
from trainlog.services.sensors import save_sensor
from trainlog.trace import Trace

pytestmark = pytest.mark.django_db

MINUTES = 30
FEW_QUERIES = 30


def heart(seed):
    """True rate that rises and falls every five minutes, each time differently."""
    rng = np.random.default_rng(seed)
    knots = 140 + 18 * rng.standard_normal(MINUTES // 2 + 1)
    return np.interp(np.arange(MINUTES * 60), np.arange(len(knots)) * 120, knots)


def wear(owner, day, *devices):
    """Session of a day, recorded by a strap, a wrist that reads 10 bpm low, or both."""
    start = MORNING + timedelta(days=day)
    rng = np.random.default_rng(100 + day)
    for device in devices:
        rate = heart(day) - (10 if device == "wrist" else 0) + rng.normal(0, 1, MINUTES * 60)
        parts = [Segment(start, start + timedelta(minutes=MINUTES), "running")]
        content = csv_writer.write(Trace(start, np.round(rate)), device, parts)
        imported(owner, content, f"{day} {device}.csv")
    return Part.objects.of(owner).get(start=start)


def with_sensors(owner):
    save_sensor(owner, Sensor(name="Strap", site="chest", principle="electrical", source_key="csv:strap"))
    save_sensor(owner, Sensor(name="Wrist", site="wrist", principle="optical", source_key="csv:wrist"))
    return owner


def log_of(name):
    return with_sensors(athlete_with_physiology(athlete(name)))


def learned(owner, pairs=4):
    """Part of a wrist-only session after some pairs, all learned from."""
    for day in range(pairs):
        wear(owner, day, "strap", "wrist")
    alone = wear(owner, pairs, "wrist")
    assert learn(owner)
    owner.refresh_from_db()
    return alone


@pytest.fixture(scope="module")
def learned_parts(rows_of_the_module):
    """Key of the wrist-only part of each of two logs that were learned from."""
    return {name: learned(log_of(name)).pk for name in ("ana", "bo")}


@pytest.fixture
def part(learned_parts):
    return Part.objects.get(pk=learned_parts["ana"])


@pytest.fixture
def theirs(learned_parts):
    return Part.objects.get(pk=learned_parts["bo"])


@pytest.fixture
def ana(client, part):
    client.force_login(part.owner.user)
    return part.owner


@pytest.fixture
def cleo(client):
    """Someone of whom nothing was recorded yet."""
    owner = log_of("cleo")
    client.force_login(owner.user)
    return owner


def test_a_fit_that_another_version_of_the_program_kept_is_not_read(client, ana, part):
    fit = Fit.objects.get(owner=ana)
    fit.method_version, fit.wrist = fit.method_version - 1, b"of another version"
    fit.save()
    LoadEstimate.objects.of(ana).update(source=fit.source)
    ana.current_source = fit.source
    ana.save()
    assert likely_of(ana, part) is None
    page(client, part)


def page(client, part, **kwargs):
    response = client.get(f"/sensors/parts/{part.pk}/findings", **kwargs)
    assert response.status_code == 200
    return response.content.decode()


def words(html):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", re.sub(r"<script.*?</script>", "", html, flags=re.S)))


def test_a_wrist_only_part_shows_its_figures_as_recorded_and_as_they_most_likely_were(client, ana, part):
    shown = words(page(client, part))
    assert "As recorded Wrist Most likely 80% interval" in shown
    assert "learned from 4 pairs in" in shown
    for row in ("Load", "Mean", "Peak reached for 5 s in all", "Vigorous 134 to 176 bpm"):
        assert row in shown


def test_the_likely_mean_makes_good_what_the_wrist_missed(ana, part):
    low, median, high = interval(likely_of(ana, part).rates.mean)
    assert low <= heart(4).mean() <= high
    assert median == pytest.approx(heart(4).mean(), abs=4)


def test_the_likely_trace_is_a_band_round_the_true_one(ana, part):
    found = likely_of(ana, part)
    assert np.mean((found.low <= heart(4)) & (heart(4) <= found.high)) > 0.7


def test_the_minutes_of_all_bands_are_the_parts(ana, part):
    minutes = likely_of(ana, part).rates.minutes_in_band.sum(axis=1)
    assert minutes == pytest.approx(np.full(len(minutes), MINUTES))


def test_a_band_that_was_not_reached_has_no_row(client, ana, part):
    assert "Very light" not in words(page(client, part))


def chart(client, part):
    return client.get(f"/sensors/workouts/{part.workout_id}/chart.json").json()


def test_the_workouts_chart_has_the_likely_band_under_the_trace(client, ana, part):
    spec = chart(client, part)
    styles = [layer["mark"]["style"] for layer in spec["layer"]]
    assert styles.index("corrected-band") < styles.index("corrected") < styles.index("tested")
    row = spec["datasets"]["traces"][600]
    assert row["low"] < row["t0"] + 10 < row["high"]


def test_the_workouts_chart_has_no_band_where_a_strap_measured(client, ana):
    worn = Part.objects.of(ana).order_by("start").first()
    styles = [layer["mark"]["style"] for layer in chart(client, worn)["layer"]]
    assert {"reference", "tested"} <= set(styles)
    assert "corrected-band" not in styles


def test_each_part_of_a_workout_has_its_own_stretch_of_the_band(client, ana, part):
    split_part(part, part.start + timedelta(minutes=10))
    assert learn(ana)
    ana.refresh_from_db()
    rows = chart(client, part)["datasets"]["traces"]
    assert rows[len(rows) // 8]["middle"] is not None
    assert rows[-len(rows) // 8]["middle"] is not None


def test_flagged_stretches_lie_where_they_were_in_the_workout(client, ana, part):
    later = split_part(part, part.start + timedelta(minutes=10))
    assert learn(ana)
    Stretch.objects.filter(part=part).update(flags=[])
    Stretch.objects.filter(part=later).update(flags=[[60, 120, "stuck"]])
    (row,) = chart(client, part)["datasets"]["flagged-tested"]
    assert (row["begins"], row["ends"]) == (11, 12)


def test_the_chart_of_another_athletes_workout_is_not_found(client, ana, theirs):
    assert client.get(f"/sensors/workouts/{theirs.workout_id}/chart.json").status_code == 404


def test_the_fragment_has_the_figures_and_no_chart(client, ana, part):
    shown = page(client, part, headers={"HX-Request": "true"})
    assert "<html" not in shown
    assert "Most likely" in shown
    assert "data-chart" not in shown


def test_without_a_pair_the_page_says_that_it_assumes(client, cleo):
    part = learned(cleo, pairs=0)
    estimate = LoadEstimate.objects.of(cleo).get(part=part, measure="trimp", source=cleo.current_source)
    assert estimate.basis == Basis.UNCORRECTED
    assert "how far they may be off is an assumption" in words(page(client, part))


def test_a_part_with_a_strap_has_no_likely_trace(client, ana):
    worn = Part.objects.of(ana).order_by("start").first()
    shown = page(client, worn)
    assert "Most likely" not in words(shown)
    assert "95% limits of agreement" in shown


def test_a_part_that_changed_since_its_estimate_shows_none(ana, part):
    set_activity(part, type(part.activity).objects.of(ana).get(slug="row"))
    assert likely_of(ana, Part.objects.select_related("workout", "activity").get(pk=part.pk)) is None


def test_before_anything_is_learned_there_is_none(cleo):
    assert likely_of(cleo, wear(cleo, 0, "wrist")) is None


def test_the_same_log_shows_the_same_figures(ana, part):
    first, second = likely_of(ana, part), likely_of(ana, part)
    assert np.array_equal(first.rates.peak, second.rates.peak)


def test_another_athletes_part_is_not_found(client, ana, theirs):
    assert client.get(f"/sensors/parts/{theirs.pk}/findings").status_code == 404


def test_another_athletes_part_has_no_likely_trace_even_if_asked_for(ana, theirs):
    assert likely_of(ana, theirs) is None


def test_the_number_of_queries_does_not_grow_with_the_pairs(client, cleo, django_assert_max_num_queries):
    part = learned(cleo, pairs=6)
    with django_assert_max_num_queries(FEW_QUERIES):
        page(client, part)
