import json
import re
from datetime import timedelta

import numpy as np
import pytest

from accuracy.core.agreement.pair_agreement import agree
from tests.accuracy.pair_builders import athlete_with_physiology, kept_pair, work
from tests.builders import MORNING, athlete
from trainlog.models import Physiology

pytestmark = pytest.mark.django_db

FEW_QUERIES = 14


@pytest.fixture
def ana(client):
    owner = athlete_with_physiology(athlete())
    client.force_login(owner.user)
    return owner


def page(client, pair, query=""):
    response = client.get(f"/sensors/pairs/{pair.pk}{query}")
    assert response.status_code == 200
    return response.content.decode()


def words(html):
    """Text of a page without its tags, blanks run together."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", re.sub(r"<script.*?</script>", "", html, flags=re.S)))


def spec(html, name):
    return json.loads(re.search(f'<script id="{name}" type="application/json">(.*?)</script>', html)[1])


def test_it_says_what_the_pair_is(client, ana):
    shown = words(page(client, kept_pair(ana)))
    for told in ("wrist against strap, run of 2 March 2026", "This pair is learned from", "9 s cut"):
        assert told in shown


def test_it_says_in_one_line_how_the_sensor_reads_and_between_which_limits(client, ana):
    noise = np.tile([-2.0, 2.0], 300)
    shown = words(page(client, kept_pair(ana, tested=work() - 10 + noise), "?epoch=1"))
    assert "reads 10.0 bpm low" in shown
    assert "95% of 1 s epochs: −14 to −6 bpm" in shown


def test_the_headline_comes_with_the_interval_of_the_bias(client, ana):
    reference = work()
    tested = reference - 10 + np.random.default_rng(4).normal(0, 3, len(reference))
    made = kept_pair(ana, reference, tested)
    found = agree(reference, tested, epoch_seconds=5)
    ends = [f"−{abs(end):.1f}" for end in (found.as_dict()["bias_low"], found.as_dict()["bias_high"])]
    assert f"95% interval {ends[0]} to {ends[1]} bpm" in page(client, made)


def test_figures_for_a_closer_look_are_folded(client, ana):
    seen, _, folded = page(client, kept_pair(ana)).partition("<summary>More figures")
    for title in ("What it means in practice", "Difference of heart rate", "Size of the error"):
        assert f"<h3>{title}</h3>" in seen
    for title in ("Likeness", "Equivalence"):
        assert f"<h3>{title}</h3>" in folded


def test_a_pair_set_aside_says_so_and_why(client, ana):
    made = kept_pair(ana, usable=False, remarks=["Only 60% of the part is valid in both traces."])
    shown = words(page(client, made))
    assert "Nothing is learned from this pair" in shown
    assert "Only 60% of the part" in shown


def test_every_figure_stands_beside_its_unit(client, ana):
    shown = words(page(client, kept_pair(ana)))
    for row in (
        "bias −10.0 bpm",
        "standard deviation 0.0 bpm",
        "mean absolute error 10.0 bpm",
        "within 5 bpm 0 % of epochs",
        "margin ±5 bpm",
        "difference of the highest −10.0 bpm",
    ):
        assert row in shown


def test_epochs_are_of_five_seconds_unless_another_length_is_chosen(client, ana):
    made = kept_pair(ana)
    assert "120 epochs of 5 s" in page(client, made)
    assert "10 epochs of 60 s" in page(client, made, "?epoch=60")


@pytest.mark.parametrize("asked", ["7", "x", "", "-1"])
def test_a_length_that_is_not_offered_shows_the_usual_one(client, ana, asked):
    assert "120 epochs of 5 s" in page(client, kept_pair(ana), f"?epoch={asked}")


def test_the_chosen_length_is_marked(client, ana):
    assert 'href="?epoch=30#agreement" aria-current="true"' in page(client, kept_pair(ana), "?epoch=30")


def test_flagged_stretches_are_named_in_the_chart_and_moved_with_the_trace(client, ana):
    made = kept_pair(ana, flags=[[60, 180, "before_lock_on"]], shift=30.0)
    shown = page(client, made)
    drawn = spec(shown, "overlay-spec")["datasets"]
    assert [(row["begins"], row["ends"]) for row in drawn["flagged-tested"]] == [(0.5, 2.5)]
    assert drawn["lanes"][0]["words"] == "tested: possibly before the sensor locked on"
    assert "possibly before the sensor locked on — 20.0" in words(shown)


def test_limits_that_change_with_the_rate_are_drawn_where_the_error_grows_with_it(client, ana):
    shown = page(client, kept_pair(ana, tested=0.8 * work() + np.tile([0.0, 1.0, 2.0], 200)))
    drawn = spec(shown, "differences-spec")["datasets"]
    low, high = (row["difference"] for row in drawn["sloped-bias"])
    assert low > high
    assert "limits at" in words(shown)


@pytest.mark.parametrize("stretch", [slice(0, 0), slice(200, 320)])
def test_neither_an_offset_nor_one_bad_stretch_makes_limits_that_change(client, ana, stretch):
    tested = work() - 10 + np.random.default_rng(0).normal(0, 2, 600)
    tested[stretch] = 175
    shown = page(client, kept_pair(ana, tested=tested))
    assert "sloped-bias" not in spec(shown, "differences-spec")["datasets"]


def test_error_by_intensity_names_the_bands_and_gives_each_its_time(client, ana):
    steady = np.full(600, 120.0)  # 50% of the reserve between 50 and 190 bpm
    shown = words(page(client, kept_pair(ana, steady, steady - 6)))
    assert re.search(r"moderate 10:00 .* −6\.0 0\.0 6\.0 5\.0 100% −1\d", shown)
    assert "near-maximal none" in shown


def test_error_by_direction_is_told_too(client, ana):
    shown = words(page(client, kept_pair(ana)))
    assert all(direction in shown for direction in ("rising", "level", "falling"))


def test_missed_peaks_are_counted_with_their_shortfall(client, ana):
    shown = words(page(client, kept_pair(ana)))
    assert re.search(r"peaks missed by 10 bpm on average (\d) of \1", shown)


def test_a_lag_is_told_only_where_both_clocks_were_set(client, ana):
    assert "not told: the clocks may differ" in words(page(client, kept_pair(ana)))
    sure = kept_pair(ana, day=1, clock="synchronised")
    assert "not told: the clocks may differ" not in words(page(client, sure))


def test_without_physiology_the_page_asks_for_it_and_shows_the_rest(client, ana):
    Physiology.objects.of(ana).delete()
    shown = words(page(client, kept_pair(ana)))
    assert "enter them" in shown
    assert "bias −10.0 bpm" in shown


@pytest.mark.parametrize("common", [0, 1])
def test_a_pair_without_common_seconds_is_shown_without_figures(client, ana, common):
    tested = np.full(600, np.nan)
    tested[:common] = 120.0
    assert "Too few seconds are valid in both traces" in page(client, kept_pair(ana, tested=tested))


def test_a_pair_too_short_for_long_epochs_says_so(client, ana):
    tested = work()
    tested[50:] = np.nan
    assert "Too few epochs of 60 s" in page(client, kept_pair(ana, tested=tested), "?epoch=60")


def test_every_chart_says_in_words_what_it_shows(client, ana):
    shown = page(client, kept_pair(ana))
    told = {
        name: spec(shown, name)["description"]
        for name in ("overlay-spec", "differences-spec", "density-spec")
    }
    assert "bias −10.0" in told["differences-spec"]
    assert all("bpm" in one for one in told.values())


def test_the_number_of_queries_is_small(client, ana, django_assert_max_num_queries):
    made = kept_pair(ana)
    with django_assert_max_num_queries(FEW_QUERIES) as queries:
        page(client, made)
    assert not any('"trainlog_recording"."trace_blob"' in query["sql"] for query in queries.captured_queries)


def test_findings_and_profile_link_to_the_pair(client, ana):
    made = kept_pair(ana)
    address = f'href="/sensors/pairs/{made.pk}"'
    assert address in client.get(f"/sensors/parts/{made.part_id}/findings").content.decode()
    cell = f"/sensors/{made.tested.sensor_id}/activities/{made.part.activity_id}"
    assert address in client.get(cell).content.decode()


def test_times_are_the_athletes(client):
    owner = athlete_with_physiology(athlete("kim", time_zone="Asia/Tokyo"))
    client.force_login(owner.user)
    local = MORNING + timedelta(hours=9)
    assert f"{local:%H:%M}" in words(page(client, kept_pair(owner)))


@pytest.mark.parametrize("ending", ["", "/pair.csv", "/pair.json"])
def test_a_pair_of_others_is_not_found(client, ana, ending):
    theirs = kept_pair(athlete_with_physiology(athlete("bo")))
    assert client.get(f"/sensors/pairs/{theirs.pk}{ending}").status_code == 404
