"""Figures side by side, why a load is as sure as it is, and what a strap gives."""

import numpy as np
import pytest

from accuracy.services.firmer import Doubted, firmer
from accuracy.services.learn import learn
from accuracy.services.with_strap import with_strap
from accuracy.shown.part_findings import findings_of, shares
from tests.accuracy.session_builders import estimate_of, session
from tests.builders import athlete, equipped_athlete, estimate, part
from trainlog.load import draws
from trainlog.models import Athlete, Basis, Confidence, Part

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def learned(rows_of_the_module):
    """Key of an athlete: three sessions with a strap, in which the wrist reads low, and one without."""
    owner = equipped_athlete("ana", strap="Strap", wrist="Wrist")
    for day in range(3):
        session(owner, day, wrist=120 + day, strap=132 + day)
    session(owner, 3, wrist=123)
    assert learn(owner)
    return owner.pk


@pytest.fixture
def ana(learned):
    return Athlete.objects.get(pk=learned)


def part_of(owner: Athlete, day: int) -> Part:
    return Part.objects.of(owner).select_related("workout", "activity").order_by("start")[day]


def found(owner, day):
    return findings_of(owner, part_of(owner, day))


def row(figures, label):
    return {cell.kind: cell for cell in next(row for row in figures.rows if row.label == label).cells}


def test_a_wrist_only_part_has_no_measured_column(ana):
    assert [column.kind for column in found(ana, 3).figures.columns] == ["recorded", "corrected"]


def test_a_part_with_both_has_all_three_columns(ana):
    columns = found(ana, 0).figures.columns
    assert [(column.kind, column.of) for column in columns] == [
        ("recorded", "Wrist"),
        ("corrected", "80% interval"),
        ("measured", "Strap"),
    ]


def test_a_part_with_the_strap_alone_has_the_measured_column_alone():
    owner = equipped_athlete("bo", strap="Strap", wrist="Wrist")
    session(owner, 0, strap=132)
    assert learn(owner)
    owner.refresh_from_db()
    assert [column.kind for column in found(owner, 0).figures.columns] == ["measured"]


def test_the_recorded_figures_are_those_of_the_trace(ana):
    figures = found(ana, 3).figures
    assert row(figures, "mean")["recorded"].figure == "123"
    assert row(figures, "peak")["recorded"].figure == "131"
    minutes = [cell.figure for row in figures.rows[3:] for cell in row.cells if cell.kind == "recorded"]
    assert sum(map(int, minutes)) == 40


def test_the_corrected_load_is_the_published_one(ana):
    kept, cell = estimate_of(ana, 3), row(found(ana, 3).figures, "load")["corrected"]
    assert cell.figure == f"{kept.median:.0f}"
    assert cell.between == f"{kept.low:.0f}–{kept.high:.0f}"


def test_the_correction_of_a_part_with_a_strap_comes_nearer_to_what_was_measured(ana):
    mean = {kind: float(cell.figure) for kind, cell in row(found(ana, 0).figures, "mean").items()}
    assert abs(mean["corrected"] - mean["measured"]) < abs(mean["recorded"] - mean["measured"])


def test_it_is_said_that_the_correction_has_seen_this_pair(ana):
    assert found(ana, 0).figures.learned_from
    assert not found(ana, 3).figures.learned_from


def test_what_a_strap_gives_is_the_middle_of_the_measured_sessions_of_the_activity(ana):
    widths = [estimate_of(ana, day).sensor_half_width for day in range(3)]
    known = with_strap(ana, part_of(ana, 3), "trimp")
    assert (known.half_width, known.sessions) == (pytest.approx(np.median(widths)), 3)
    assert known.confidence == Confidence.of(known.half_width).label


def test_sessions_of_another_activity_say_nothing_of_what_a_strap_gives(ana):
    assert with_strap(ana, part(ana, activity="row"), "trimp") is None


def test_what_a_strap_would_have_given_is_said_with_the_sessions_it_rests_on(ana):
    said = found(ana, 3).strap
    assert said.startswith("With a strap this load would most likely have been known to ±")
    assert said.endswith("as in your 3 measured sessions of lifting.")


def test_without_any_measured_session_it_is_said_not_to_be_known():
    owner = equipped_athlete("bo", strap="Strap", wrist="Wrist")
    session(owner, 0, wrist=123)
    assert learn(owner)
    owner.refresh_from_db()
    assert "not known: there is no measured session of lifting yet" in found(owner, 0).strap


def test_where_a_strap_was_worn_it_is_said_what_the_wrist_alone_would_have_given(ana):
    said = found(ana, 0).strap
    assert said.startswith("Without the strap, Wrist would have given this load to ±")
    assert "(firm)." in said


def test_a_part_that_is_being_estimated_has_no_findings(ana):
    changed = part_of(ana, 3)
    Part.objects.filter(pk=changed.pk).update(input_revision=changed.input_revision + 1)
    assert found(ana, 3) is None


def test_the_shares_of_the_doubt_are_those_of_the_variances_of_the_log_load():
    normal = draws.standard_normals("any")
    made = estimate(part(athlete("bo")), 100 * np.exp(0.2 * normal))
    made.physiology_draws = draws.pack(100 * np.exp(0.1 * normal))
    assert shares(made).startswith("About 80% of the doubt is the sensor’s")
    assert "20% that of your resting and maximum heart rate" in shares(made)


def test_a_load_without_doubt_has_no_shares():
    assert shares(estimate(part(athlete("bo")), 100.0)) == ""


def doubted(**more):
    return Doubted(Basis.CORRECTED, "lifting", **({"sensor": "Wrist", "half_width": 0.3} | more))


def test_a_loose_wrist_load_gets_firmer_by_one_more_pair():
    (only,) = firmer(doubted(sensor_share=0.9))
    assert only.startswith("Wearing a strap beside Wrist in lifting once more")


def test_a_firm_load_asks_for_nothing_of_its_sensor():
    assert firmer(doubted(half_width=0.08, sensor_share=0.9)) == []


def test_a_rating_is_asked_for_only_where_pairs_showed_that_it_helps():
    assert len(firmer(doubted(ratings_help=True))) == 2
    assert len(firmer(doubted(ratings_help=True, rated=True))) == 1


def test_a_predicted_maximum_is_named_where_it_makes_a_quarter_of_the_doubt():
    assert "predicted from age" in firmer(doubted(sensor_share=0.7, maximum_source="age"))[-1]
    assert "predicted from age" not in firmer(doubted(sensor_share=0.8, maximum_source="age"))[-1]


def test_gaps_are_named_where_much_went_unrecorded():
    assert (
        firmer(doubted(missing_share=0.2))[-1]
        == "A recording without gaps: 20% of this part went unrecorded."
    )


def test_a_session_of_which_nothing_is_known_asks_for_a_recording_or_a_rating():
    assert len(firmer(Doubted(Basis.MISSING, "lifting", half_width=0.6))) == 2
