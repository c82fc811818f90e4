from datetime import date, timedelta

import numpy as np
import pytest

from accuracy.models import Advice, ErrorProfile, Fit, LearningState, Pair, Stretch, histogram_bytes
from tests.builders import MORNING, activity_of, athlete, csv_file, imported, sensor, strap
from trainlog.load.trimp import histogram
from trainlog.models import Part, Physiology, Sensor

pytestmark = pytest.mark.django_db

FEW_QUERIES = 16


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    Physiology.objects.create(owner=owner, from_day=MORNING.date(), resting_rate=50, maximum_rate=190)
    return owner


def page(client, address="/sensors/", **kwargs):
    response = client.get(address, **kwargs)
    assert response.status_code == 200
    return response.content.decode()


def fit_of(owner):
    fit = Fit(owner=owner, inputs_hash="f" * 64, method_version=1, pair_count=4)
    for field in Fit._meta.fields:
        if field.get_internal_type() == "BinaryField":
            setattr(fit, field.name, b"")
    fit.save()
    owner.current_source = fit.source
    owner.save()
    return fit


def learned(owner, tested, activity="run", **changes):
    fields = {
        "pair_count": 4,
        "ratio": 1 / 0.88,
        "ratio_low": 1 / 0.96,
        "ratio_high": 1 / 0.81,
        "within_ten": 0.83,
        "raw_within_ten": 0.31,
        "advice": Advice.STRAP_ADVISED,
        "reason": "Because four pairs say so.",
    }
    fit = Fit.objects.of(owner).first() or fit_of(owner)
    return ErrorProfile.objects.create(
        owner=owner, fit=fit, sensor=tested, activity=activity_of(owner, activity), **(fields | changes)
    )


def pair(owner, day=0, *, tested=None, reference=None, usable=True):
    start = MORNING + timedelta(days=day)
    one = imported(owner, csv_file(start, bpm=140, device="chest"), "strap.csv")
    two = imported(owner, csv_file(start, bpm=126, device="left"), "wrist.csv")
    one.sensor = reference or Sensor.objects.of(owner).filter(site="chest").first() or strap(owner)
    two.sensor = tested or Sensor.objects.of(owner).filter(site="wrist").first() or sensor(owner)
    one.save()
    two.save()
    made = Pair.objects.create(
        owner=owner,
        part=Part.objects.get(workout=one.workout),
        reference=one,
        tested=two,
        usable=usable,
        remarks=["Reference: 9 s cut (no reading)."],
        shift=2.0,
        shift_ambiguous=False,
        common_seconds=600,
        agreement={"bias": -14.0, "mean_absolute_error": 14.0, "lock_on_seconds": 95.0, "concordance": None},
        reference_histogram=histogram_bytes(histogram(np.full(600, 140.0))),
        tested_histogram=histogram_bytes(histogram(np.full(600, 126.0))),
    )
    Stretch.objects.create(
        owner=owner,
        part=made.part,
        recording=two,
        seconds=600,
        valid_seconds=600,
        histogram=made.tested_histogram,
        flags=[[0, 130, "before_lock_on"]],
    )
    return made


def test_without_any_sensor_the_page_says_how_one_comes_about(client, ana):
    assert "No sensor yet" in page(client)


def test_without_a_reference_the_page_asks_for_one(client, ana):
    sensor(ana)
    assert "Nothing can be learned without a reference" in page(client)


def test_a_cell_says_how_the_sensor_reads_and_what_to_do(client, ana):
    learned(ana, sensor(ana, "left wrist"))
    strap(ana)
    shown = page(client)
    for words in ("reads 12% low", "(4–19% low)", "4 pairs", "30% as it stands", "85% corrected"):
        assert words in shown
    assert "strap advised" in shown
    assert "Because four pairs say so." in shown


def test_a_cell_without_pairs_says_that_it_is_borrowed(client, ana):
    learned(ana, sensor(ana), pair_count=0, advice=Advice.TOO_FEW_PAIRS)
    assert "no pairs here; going by your others" in page(client)


def test_a_cell_of_a_fit_without_any_pair_says_that_it_is_assumed(client, ana):
    learned(ana, sensor(ana), pair_count=0, advice=Advice.TOO_FEW_PAIRS)
    Fit.objects.of(ana).update(pair_count=0)
    assert "no pairs yet; by a first assumption" in page(client)


def test_profiles_of_an_older_fit_are_not_shown(client, ana):
    learned(ana, sensor(ana))
    ana.current_source = "1/somethingelse"
    ana.save()
    assert "reads 12% low" not in page(client)


def test_a_failure_of_learning_is_shown(client, ana):
    LearningState.objects.create(owner=ana, failure="ValueError: too much sun")
    assert "too much sun" in page(client)


def test_the_number_of_queries_does_not_grow_with_the_matrix(client, ana, django_assert_max_num_queries):
    for name in ("a", "b", "c", "d"):
        tested = sensor(ana, name)
        for activity in ("run", "ride", "row", "lifting"):
            learned(ana, tested, activity)
    with django_assert_max_num_queries(FEW_QUERIES):
        page(client)


def test_a_profile_lists_its_pairs_with_both_loads(client, ana):
    made = pair(ana)
    learned(ana, made.tested.sensor)
    shown = page(client, f"/sensors/{made.tested.sensor_id}/activities/{made.part.activity_id}")
    assert "2 Mar 2026" in shown
    assert "−14.0" in shown
    assert "+2" in shown
    assert "Reference: 9 s cut" in shown
    assert "ratios-spec" in shown
    assert "1 of 1 learned from" in shown


def test_a_profile_with_nothing_learned_says_so(client, ana):
    tested = sensor(ana)
    address = f"/sensors/{tested.pk}/activities/{activity_of(ana, 'run').pk}"
    assert "Nothing is learned" in page(client, address)


def test_findings_give_agreement_and_flagged_stretches_in_words(client, ana):
    made = pair(ana)
    shown = page(client, f"/sensors/parts/{made.part_id}/findings")
    assert "<html" in shown
    for words in (
        "wrist against strap",
        "−14.0 bpm",
        "1:35",
        "0:00 to 2:10: possibly before the sensor locked on",
    ):
        assert words in shown


def test_figures_that_are_not_there_are_a_dash(client, ana):
    made = pair(ana)
    assert "<dt>Concordance</dt><dd>—</dd>" in page(client, f"/sensors/parts/{made.part_id}/findings")


def test_findings_are_a_fragment_for_htmx(client, ana):
    made = pair(ana)
    shown = page(client, f"/sensors/parts/{made.part_id}/findings", headers={"HX-Request": "true"})
    assert "<html" not in shown


def test_a_sensor_can_be_added(client, ana):
    client.post("/sensors/new", {"name": "belt", "site": "chest", "principle": "electrical"})
    assert Sensor.objects.of(ana).get().is_reference


def test_a_sensor_added_for_a_recording_is_its_sensor(client, ana):
    recording = imported(ana, csv_file())
    fields = {"name": "left", "site": "wrist", "principle": "optical", "recording": recording.pk}
    client.post("/sensors/new", fields)
    recording.refresh_from_db()
    assert recording.sensor == Sensor.objects.get(name="left")


def test_a_name_that_is_taken_is_explained(client, ana):
    sensor(ana, "left")
    response = client.post("/sensors/new", {"name": "left", "site": "wrist", "principle": "optical"})
    assert response.status_code == 422
    assert "already" in response.content.decode()
    assert Sensor.objects.of(ana).count() == 1


def test_a_sensor_can_be_renamed(client, ana):
    one = sensor(ana, "left")
    client.post(f"/sensors/{one.pk}", {"name": "right", "site": "wrist", "principle": "optical"})
    one.refresh_from_db()
    assert one.name == "right"


def test_firmware_is_noted_with_its_day(client, ana):
    one = sensor(ana)
    client.post(f"/sensors/{one.pk}/firmware", {"version": "3.0", "from_day": "2026-03-01"})
    assert one.firmware_on(date(2026, 3, 2)) == "3.0"
    assert "3.0" in page(client, f"/sensors/{one.pk}")


def test_firmware_without_a_day_is_explained(client, ana):
    one = sensor(ana)
    assert client.post(f"/sensors/{one.pk}/firmware", {"version": "3.0"}).status_code == 422


@pytest.mark.parametrize(
    "address",
    [
        "/sensors/{sensor}",
        "/sensors/{sensor}/activities/{activity}",
        "/sensors/parts/{part}/findings",
        "/sensors/new?recording={recording}",
    ],
)
def test_what_others_have_is_not_found(client, ana, address):
    theirs = pair(athlete("bo"))
    found = client.get(
        address.format(
            sensor=theirs.tested.sensor_id,
            activity=theirs.part.activity_id,
            part=theirs.part_id,
            recording=theirs.tested_id,
        )
    )
    assert found.status_code == 404
