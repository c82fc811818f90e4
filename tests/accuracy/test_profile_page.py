import json
import re
from datetime import timedelta

import numpy as np
import pytest

from accuracy.models import ErrorProfile, Pair
from accuracy.services.learn import learn
from accuracy.services.pooled_agreement import pooled_agreements
from fixtures import csv_writer
from tests.accuracy.pair_builders import athlete_with_physiology, kept_pair, shown_profile, work
from tests.accuracy.test_pair_page import spec, words
from tests.builders import MORNING, athlete, imported, sensor, strap
from trainlog import trace_blob
from trainlog.readers.reading import Segment
from trainlog.services.edit_workout import split_part
from trainlog.trace import Trace

pytestmark = pytest.mark.django_db

FEW_QUERIES = 14


@pytest.fixture
def ana(client):
    owner = athlete_with_physiology(athlete())
    client.force_login(owner.user)
    return owner


def page(client, pair, query=""):
    response = client.get(f"/sensors/{pair.tested.sensor_id}/activities/{pair.part.activity_id}{query}")
    assert response.status_code == 200
    return response.content.decode()


@pytest.fixture
def four(ana):
    """Four sessions whose biases are −4, −6, −8 and −10 bpm, and one that was set aside."""
    made = [kept_pair(ana, tested=work() - bias, day=day) for day, bias in enumerate((4, 6, 8, 10))]
    kept_pair(ana, tested=work() - 90, day=9, usable=False)
    shown_profile(ana, made[0])
    return made


def test_bias_is_over_sessions_with_sessions_as_the_sample(client, four):
    shown = words(page(client, four[0]))
    assert "Agreement over 4 sessions: reads 7.0 bpm low" in shown
    # Mean of four sessions −7, standard error 2.58 / 2, t with 3 degrees of freedom 3.18.
    assert "bias −7.0 bpm −11.1 to −2.9" in shown


def test_spread_is_split_between_and_within_sessions(client, four):
    shown = words(page(client, four[0]))
    assert "… between sessions 2.6 bpm" in shown
    assert "… within sessions 0.0 bpm" in shown


def test_a_pair_set_aside_is_not_pooled(client, four):
    drawn = spec(page(client, four[0]), "differences-spec")["datasets"]
    assert [row["difference"] for row in drawn["sessions"]] == [-4.0, -6.0, -8.0, -10.0]


def test_each_session_is_drawn_with_its_day(client, four):
    drawn = spec(page(client, four[0]), "differences-spec")["datasets"]
    assert [row["day"] for row in drawn["sessions"]][:2] == ["2026-03-02", "2026-03-03"]


def test_the_length_of_an_epoch_can_be_chosen(client, four):
    assert "480 epochs of 5 s" in page(client, four[0])
    assert "40 epochs of 60 s" in page(client, four[0], "?epoch=60")


def test_error_by_intensity_counts_sessions_and_time(client, four):
    shown = words(page(client, four[0]))
    assert re.search(r"vigorous 4 \d+:\d\d −7\.0 −11\.1 to −2\.9", shown)


def test_what_a_study_would_report_says_what_is_lacking(client, four):
    shown = words(page(client, four[0]))
    assert "1; 45 or more are asked for" in shown
    assert "skin tone (Fitzpatrick) not known" in shown
    assert "mean difference −7.00 bpm" in shown


def test_with_two_sessions_no_interval_is_made_up(client, ana):
    made = [kept_pair(ana, tested=work() - bias, day=day) for day, bias in enumerate((4, 6))]
    shown_profile(ana, made[0])
    shown = words(page(client, made[0]))
    assert "takes at least three of them" in shown
    assert "bias −5.0 bpm standard" in shown


def test_before_anything_was_pooled_the_page_says_when_it_comes(client, ana):
    made = kept_pair(ana)
    shown_profile(ana, made, agreement={})
    assert "comes with the next learning" in page(client, made)


def test_the_page_reads_no_trace(client, four, django_assert_max_num_queries):
    with django_assert_max_num_queries(FEW_QUERIES) as queries:
        page(client, four[0])
    read = " ".join(query["sql"] for query in queries.captured_queries)
    assert "trace_blob" not in read
    assert "reference_trace" not in read


def test_what_is_stored_is_plain_json(ana):
    made = kept_pair(ana)
    stored = pooled_agreements(ana)[made.tested.sensor_id, made.part.activity_id]
    assert json.loads(json.dumps(stored, allow_nan=False)) == stored


def test_what_was_pooled_of_the_same_pairs_is_taken_over_and_no_trace_is_fetched(
    ana, django_assert_max_num_queries
):
    made = kept_pair(ana)
    stored = pooled_agreements(ana)
    shown_profile(ana, made, agreement=stored[made.tested.sensor_id, made.part.activity_id])
    with django_assert_max_num_queries(FEW_QUERIES) as queries:
        assert pooled_agreements(ana) == stored
    assert "reference_trace" not in " ".join(query["sql"] for query in queries.captured_queries)


def test_one_more_pair_is_pooled_with_the_others(ana):
    made = kept_pair(ana)
    key = made.tested.sensor_id, made.part.activity_id
    stored = pooled_agreements(ana)
    shown_profile(ana, made, agreement=stored[key])
    later = split_part(made.part, made.part.start + (made.part.end - made.part.start) / 2)
    kept_pair_of(later, made, np.split(work(), 2)[1])
    assert pooled_agreements(ana)[key]["origin"] != stored[key]["origin"]
    assert pooled_agreements(ana)[key]["epochs"] != stored[key]["epochs"]


def test_two_parts_of_one_workout_are_one_session(ana):
    made = kept_pair(ana)
    later = split_part(made.part, made.part.start + (made.part.end - made.part.start) / 2)
    first, rest = np.split(work(), 2)
    again = kept_pair_of(later, made, rest)
    assert again.part.workout_id == made.part.workout_id
    stored = pooled_agreements(ana)[made.tested.sensor_id, made.part.activity_id]
    assert stored["epochs"]["1"]["sessions"] == 1
    assert stored["epochs"]["1"]["epochs"] == len(work()) + len(first)


def kept_pair_of(part, like, trace):
    """Another pair of the same recordings, on another part."""

    return Pair.objects.create(
        owner=like.owner,
        part=part,
        reference=like.reference,
        tested=like.tested,
        usable=True,
        shift=0,
        shift_ambiguous=False,
        common_seconds=len(trace),
        reference_histogram=like.reference_histogram,
        tested_histogram=like.tested_histogram,
        reference_trace=trace_blob.pack(Trace(part.start, trace)),
        tested_trace=trace_blob.pack(Trace(part.start, trace - 3)),
    )


def test_agreement_of_a_session_is_the_same_whatever_the_order_of_import(ana):
    one = [kept_pair(ana, tested=work() - bias, day=day) for day, bias in enumerate((4, 6, 8))]
    bo = athlete_with_physiology(athlete("bo"))
    two = [kept_pair(bo, tested=work() - bias, day=day) for day, bias in reversed(list(enumerate((4, 6, 8))))]
    stored = [
        pooled_agreements(owner)[made[0].tested.sensor_id, made[0].part.activity_id]
        for owner, made in ((ana, one), (bo, two))
    ]
    assert stored[0]["epochs"] == stored[1]["epochs"]


@pytest.mark.parametrize("ending", ["", "/agreement.csv", "/agreement.json"])
def test_the_cell_of_others_is_not_found(client, ana, ending):
    theirs = kept_pair(athlete_with_physiology(athlete("bo")))
    address = f"/sensors/{theirs.tested.sensor_id}/activities/{theirs.part.activity_id}{ending}"
    assert client.get(address).status_code == 404


def test_learning_keeps_the_pooled_agreement_with_the_profile(ana):
    strap(ana, source_key="csv:chest")
    wrist = sensor(ana, source_key="csv:left")
    rates = np.round(work() + 3 * np.sin(np.arange(len(work())) / 7))
    for day in range(2):
        start = MORNING + timedelta(days=day)
        for device, trace in (("chest", rates), ("left", rates - 6 - day)):
            whole = Trace(start, trace)
            imported(ana, csv_writer.write(whole, device, [Segment(start, whole.end, "running")]))
    while not learn(ana):
        pass
    kept = ErrorProfile.objects.get(sensor=wrist)
    assert kept.agreement["epochs"]["5"]["bias"]["value"] == pytest.approx(-6.5)
    assert kept.agreement["epochs"]["5"]["sessions"] == 2
