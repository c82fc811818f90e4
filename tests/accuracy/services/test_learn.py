"""From files to published estimates, and back to where they were when nothing changed."""

from datetime import date, timedelta

import numpy as np
import pytest

from accuracy.core.learning.profile import chance_of_session
from accuracy.models import ErrorProfile, Fit, Pair, PartEvidence
from accuracy.services import digest as digesting
from accuracy.services.knowledge import physiology_by_day
from accuracy.services.learn import learn
from accuracy.services.stale import stale
from fixtures import csv_writer
from tests import builders
from tests.accuracy.session_builders import FIRST_DAY, estimate_of, file_of, session
from trainlog.load.draws import standard_normals, stratified_uniforms
from trainlog.models import (
    Activity,
    Basis,
    LoadEstimate,
    Part,
    Physiology,
    Recording,
    Sensor,
    TrendWeek,
    UnknownDay,
)
from trainlog.readers.reading import Clock, Segment
from trainlog.services.athletes import set_physiology
from trainlog.services.delete_workouts import delete_recording, delete_workout
from trainlog.services.edit_workout import (
    add_typed_workout,
    set_activity,
    set_clock,
    set_note,
    set_session_rpe,
)
from trainlog.services.log_changed import log_changed
from trainlog.services.sensors import save_sensor
from trainlog.services.trend import trend_between
from trainlog.services.undo import undo
from trainlog.trace import Trace

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana():
    return builders.equipped_athlete("ana", strap="Strap", wrist="Wrist")


def medians(athlete):
    athlete.refresh_from_db()
    rows = LoadEstimate.objects.of(athlete).filter(measure="trimp", source=athlete.current_source)
    return {row.part.start: bytes(row.all_draws) for row in rows.select_related("part")}


def test_a_strap_session_is_measured(ana):
    session(ana, 0, strap=140)
    assert learn(ana)
    estimate = estimate_of(ana, 0)
    assert estimate.basis == Basis.MEASURED
    assert estimate.confidence == "firm"
    assert "Strap covers 100%" in estimate.reason


def test_a_wrist_session_without_any_pair_stands_uncorrected_with_a_wide_margin(ana):
    session(ana, 0, wrist=130)
    learn(ana)
    estimate = estimate_of(ana, 0)
    assert estimate.basis == Basis.UNCORRECTED
    assert estimate.median == pytest.approx(estimate.raw, rel=0.02)
    assert estimate.confidence in {"loose", "unknown"}


def test_pairs_move_a_wrist_only_load_toward_their_ratio_and_narrow_it(ana):
    session(ana, 0, wrist=125)
    learn(ana)
    before = estimate_of(ana, 0)
    for day, (strap, wrist) in enumerate(
        [(150, 131), (142, 125), (146, 128), (139, 121), (151, 133)], start=1
    ):
        session(ana, day, strap=strap, wrist=wrist)
    learn(ana)
    after = estimate_of(ana, 0)
    pair_ratio = np.median([np.log(reference / tested) for reference, tested in pair_loads(ana)])
    assert after.basis == Basis.CORRECTED
    assert before.raw < before.median * 1.02 < after.median
    assert np.log(after.median / after.raw) == pytest.approx(pair_ratio, abs=0.06)
    assert after.sensor_half_width < 0.5 * before.sensor_half_width


def pair_loads(athlete):
    physiology_on = physiology_by_day(athlete)
    for pair in Pair.objects.of(athlete).filter(usable=True).select_related("part__workout"):
        physiology = physiology_on(pair.part.workout.day)
        yield tuple(physiology.central_load(histogram) for histogram in pair.histograms)


def test_a_wrist_that_agrees_with_the_strap_is_accepted_as_it_stands(ana):
    for day, rate in enumerate((140, 150, 136, 144, 139, 147)):
        session(ana, day, strap=rate, wrist=rate - 0.5, sport="running")
    session(ana, 9, wrist=142, sport="running")
    learn(ana)
    estimate = estimate_of(ana, 9)
    assert estimate.basis == Basis.ACCEPTED
    assert estimate.median == pytest.approx(estimate.raw, rel=0.02)


def test_a_typed_session_with_a_rating_is_reported(ana):
    for day, rate in enumerate((140, 150, 136)):
        session(ana, day, strap=rate, sport="running")
        set_session_rpe(Part.objects.of(ana).order_by("-start")[0], 5)
    run = Activity.objects.of(ana).get(slug="run")
    add_typed_workout(ana, FIRST_DAY + timedelta(days=9), 50, run, 5)
    learn(ana)
    estimate = estimate_of(ana, 9)
    assert estimate.basis == Basis.REPORTED
    assert "3 sessions" in estimate.reason
    measured = estimate_of(ana, 0)
    assert estimate.low < measured.median * 50 / 40 < estimate.high


def test_a_session_of_which_nothing_is_known_is_missing_and_never_zero(ana):
    run = Activity.objects.of(ana).get(slug="run")
    add_typed_workout(ana, FIRST_DAY, 50, run, None)
    learn(ana)
    estimate = estimate_of(ana, 0)
    assert estimate.basis == Basis.MISSING
    assert estimate.low > 0


def test_a_part_that_no_known_sensor_recorded_is_missing_until_the_sensor_is_named(ana):
    content = file_of(FIRST_DAY, 40, bpm=140, device="something new", sports=("running",))
    recording = builders.imported(ana, content)
    learn(ana)
    assert estimate_of(ana, 0).basis == Basis.MISSING
    from trainlog.services.edit_workout import set_sensor

    set_sensor(recording, Sensor.objects.of(ana).get(name="Strap"))
    learn(ana)
    assert estimate_of(ana, 0).basis == Basis.MEASURED


def test_learning_again_from_an_unchanged_log_leaves_every_estimate_identical(ana):
    for day, rate in enumerate((140, 150, 136)):
        session(ana, day, strap=rate, wrist=rate - 15)
    session(ana, 9, wrist=130)
    learn(ana)
    before, fit = medians(ana), Fit.objects.get(owner=ana).pk
    learn(ana)
    assert medians(ana) == before
    assert Fit.objects.get(owner=ana).pk == fit


def test_estimates_are_identical_to_the_bit_whatever_draws_are_still_at_hand(ana):
    for day in range(4):
        session(ana, day, strap=140, wrist=130)
    session(ana, 4, wrist=130)
    learn(ana)
    before = medians(ana)
    LoadEstimate.objects.all().delete()
    for remembered in (stratified_uniforms, standard_normals, chance_of_session):
        remembered.cache_clear()
    learn(ana)
    assert len(before) == 5
    assert medians(ana) == before


def test_an_unrelated_edit_leaves_every_estimate_identical_to_the_bit(ana):
    for day, rate in enumerate((140, 150, 136)):
        session(ana, day, strap=rate, wrist=rate - 15)
    session(ana, 9, wrist=130)
    learn(ana)
    before = medians(ana)
    part = Part.objects.of(ana).order_by("-start")[0]
    set_note(part.workout, "windy")
    set_session_rpe(part, 6)
    save_sensor(ana, Sensor(name="Spare", site="wrist", principle="optical"))
    learn(ana)
    assert medians(ana) == before


def test_the_same_files_in_any_order_give_identical_estimates(ana):
    other = builders.athlete("ben", seed=ana.seed)
    for row in Physiology.objects.of(ana):
        row.pk = None
        set_physiology(other, row)
    for row in Sensor.objects.of(ana):
        row.pk = None
        save_sensor(other, row)
    files = []
    for day, rate in enumerate((140, 150, 136, 144)):
        for device, bpm in (("strap", rate), ("wrist", rate - 15)):
            start = FIRST_DAY + timedelta(days=day)
            files.append(file_of(start, 40, bpm=bpm, device=device, sports=("lifting", "hiit")))
    files.append(file_of(FIRST_DAY + timedelta(days=7), 40, bpm=128, device="wrist", sports=("lifting",)))
    for athlete, order in ((ana, files), (other, files[::-1])):
        for content in order:
            builders.imported(athlete, content)
    learn(ana)
    learn(other)
    assert medians(ana) == medians(other)


def test_one_fit_is_shown_at_a_time_and_the_old_one_is_gone(ana):
    session(ana, 0, strap=140, wrist=125)
    learn(ana)
    session(ana, 1, strap=150, wrist=133)
    learn(ana)
    ana.refresh_from_db()
    assert set(LoadEstimate.objects.of(ana).values_list("source", flat=True)) == {ana.current_source}
    assert Fit.objects.of(ana).count() == 1


def test_pages_keep_the_old_fit_until_every_part_is_estimated_under_the_new(ana, monkeypatch):
    session(ana, 0, strap=140, wrist=125)
    learn(ana)
    ana.refresh_from_db()
    shown = ana.current_source
    session(ana, 1, strap=150, wrist=133)
    assert not learn(ana, seconds=0)
    ana.refresh_from_db()
    assert ana.current_source == shown
    assert LoadEstimate.objects.of(ana).filter(source=shown).exists()
    while not learn(ana, seconds=0):
        pass
    ana.refresh_from_db()
    assert ana.current_source != shown
    assert not stale(ana).exists()


def test_a_change_of_activity_during_the_work_discards_what_was_computed(ana, monkeypatch):
    session(ana, 0, strap=140, wrist=125)
    part = Part.objects.get(owner=ana)
    part = Part.objects.select_related("workout", "activity").get(pk=part.pk)
    set_activity(Part.objects.get(pk=part.pk), Activity.objects.of(ana).get(slug="run"))
    assert not digesting.digest(part)
    assert not PartEvidence.objects.filter(part=part).exists()


def test_deleting_a_workout_unlearns_its_pair(ana):
    session(ana, 0, strap=140, wrist=125)
    session(ana, 1, strap=150, wrist=133)
    learn(ana)
    assert ErrorProfile.objects.get(owner=ana).pair_count == 2
    delete_workout(Part.objects.of(ana).order_by("start")[0].workout)
    learn(ana)
    assert ErrorProfile.objects.get(owner=ana).pair_count == 1


def test_a_part_whose_recording_is_broken_is_missing_with_the_reason_and_the_rest_goes_on(ana, monkeypatch):
    session(ana, 0, strap=140)
    session(ana, 1, strap=150)
    broken = Part.objects.of(ana).order_by("start")[0]
    original = digesting.slices_of

    def slices_of(part):
        if part.pk == broken.pk:
            raise ValueError("trace of an unknown version")
        return original(part)

    monkeypatch.setattr(digesting, "slices_of", slices_of)
    learn(ana)
    assert estimate_of(ana, 1).basis == Basis.MEASURED
    assert "trace of an unknown version" in estimate_of(ana, 0).reason


def test_without_physiology_no_load_is_told():
    ben = builders.athlete("ben")
    builders.imported(ben, builders.csv_file())
    assert learn(ben)
    assert not LoadEstimate.objects.exists()


def test_changed_physiology_re_estimates_every_part(ana):
    session(ana, 0, strap=140)
    learn(ana)
    before = estimate_of(ana, 0).median
    set_physiology(
        ana, Physiology(from_day=date(2026, 1, 1), resting_rate=50, maximum_rate=170, maximum_error=3)
    )
    learn(ana)
    assert estimate_of(ana, 0).median > 1.2 * before


def test_age_predicted_maximum_widens_the_load_but_not_the_sensors_doubt(ana):
    session(ana, 0, strap=140)
    learn(ana)
    before = estimate_of(ana, 0)
    set_physiology(
        ana, Physiology(from_day=date(2026, 1, 1), resting_rate=50, maximum_rate=190, maximum_error=10)
    )
    learn(ana)
    after = estimate_of(ana, 0)
    assert after.high - after.low > 1.5 * (before.high - before.low)
    assert after.sensor_half_width == pytest.approx(before.sensor_half_width)
    assert after.confidence == "firm"


def test_profiles_say_in_words_how_the_wrist_errs_and_what_to_do(ana):
    for day, rate in enumerate((140, 150, 136, 144)):
        session(ana, day, strap=rate, wrist=rate - 18)
    learn(ana)
    profile = ErrorProfile.objects.get(owner=ana)
    assert profile.pair_count == 4
    assert profile.ratio > 1.2
    assert "low" in profile.reason
    assert "4 pairs" in profile.reason


def test_two_clocks_stated_as_synchronised_are_not_moved_against_each_other(ana):
    rng = np.random.default_rng(4)
    rate = np.round(130 + 25 * np.repeat(rng.random(40), 60) + 2 * np.sin(np.arange(2400) / 9))
    for device, shift in (("strap", 0), ("wrist", 6)):
        content = csv_writer.write(
            Trace(FIRST_DAY, np.roll(rate, shift)),
            device,
            [Segment(FIRST_DAY, FIRST_DAY + timedelta(minutes=40), "running")],
        )
        builders.imported(ana, content)
    learn(ana)
    assert Pair.objects.get(owner=ana).shift == pytest.approx(6, abs=0.5)
    for recording in Recording.objects.of(ana):
        set_clock(recording, Clock.SYNCHRONISED)
    learn(ana)
    assert Pair.objects.get(owner=ana).shift == 0


def test_the_trend_is_kept_with_the_estimates_on_show_and_no_other(ana):
    session(ana, 0, strap=140)
    learn(ana)
    session(ana, 9, strap=150, wrist=140)
    learn(ana)
    ana.refresh_from_db()
    rows = TrendWeek.objects.of(ana)
    assert set(rows.values_list("source", flat=True)) == {ana.current_source}
    kept = trend_between(ana, FIRST_DAY.date(), (FIRST_DAY + timedelta(days=9)).date())
    assert kept.of("load")[9, 1] == pytest.approx(estimate_of(ana, 9).median, rel=1e-3)


def test_a_marked_day_is_in_the_trend_once_the_log_is_learned_from(ana):
    for day in range(3):
        session(ana, day, strap=140)
    learn(ana)
    day = (FIRST_DAY + timedelta(days=3)).date()
    assert not trend_between(estimate_of(ana, 0).owner, day, day).of("load").any()
    UnknownDay.objects.create(owner=ana, day=day)
    log_changed(ana)
    learn(ana)
    assert trend_between(estimate_of(ana, 0).owner, day, day).of("load").all()


def test_a_deletion_that_is_undone_leaves_every_draw_as_it_was(ana):
    session(ana, 0, strap=140, wrist=125)
    session(ana, 1, strap=150, wrist=133)
    session(ana, 2, wrist=130)
    learn(ana)
    before = medians(ana)
    for deleted in (
        lambda: delete_workout(Part.objects.of(ana).order_by("start")[0].workout),
        lambda: delete_recording(Recording.objects.of(ana).get(file_name="1 strap.csv")),
    ):
        deletion = deleted()
        learn(ana)
        assert medians(ana) != before
        undo(deletion)
        learn(ana)
        assert medians(ana) == before
