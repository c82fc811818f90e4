"""How well the log foretells, on the page of a sensor on an activity."""

from html import unescape

import altair as alt
import numpy as np
import pytest

from accuracy import charts
from accuracy.core.learning.drift import Drift
from accuracy.core.learning.priors import FAMILIES
from accuracy.core.learning.selection import Difference
from accuracy.core.learning.wrist_fit import NAMES
from accuracy.models import Fit
from accuracy.services import wording
from accuracy.services.learn import learn
from accuracy.shown.calibration import CANDIDATES, judgement, width_in_words
from tests.accuracy.pair_builders import athlete_with_physiology
from tests.accuracy.test_pair_page import spec, words
from tests.accuracy.test_web import learned
from tests.builders import activity_of, athlete, sensor, strap

pytestmark = pytest.mark.django_db

CHANGED = wording.changed(Drift(739678, 1.0, 2)).strip()
CHOSEN = wording.chosen_days([Difference("load", 1.0, 0.5, 0.01)])

STEADY = {"few features and rating": 0.84, "constant": 0.07, "raw": 0.04, "trace": 0.03, "few features": 0.02}


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def shown(client, ana, *, own=(), others=(), width=0.86, weights=STEADY, **changes):
    """Page of a wrist sensor on running whose own and other pairs were foretold with these scores."""
    worn = sensor(ana, "left wrist")
    profile = learned(ana, worn, **changes)
    scores = np.array([*own, *others])
    inside = np.abs(scores)
    covered = {"50": inside <= 0.674, "80": inside <= 1.2816, "95": inside <= 1.96}
    Fit.objects.filter(pk=profile.fit_id).update(
        calibration={
            "pairs": len(scores),
            "covered": {name: float(held.mean()) for name, held in covered.items() if len(scores)},
            "by_cell": {f"{worn.key}/run": list(own), "another/ride": list(others)},
            "width": width,
            "weights": [[weights.get(name, 0.0) for name in NAMES]] * len(FAMILIES),
            "near_per_cent": 7,
        }
    )
    response = client.get(f"/sensors/{worn.pk}/activities/{activity_of(ana, 'run').pk}")
    assert response.status_code == 200
    return response.content.decode()


def test_it_says_how_many_pairs_the_intervals_of_each_width_held(client, ana):
    said = words(shown(client, ana, own=[0.1] * 5, others=[0.2] * 5 + [1.0] * 6 + [1.5] * 3 + [2.5]))
    assert "Each of the 20 pairs, of all sensors and activities, was foretold from the other workouts" in said
    assert "the 50% intervals held 10 of them (50%)" in said
    assert "the 80% intervals 16 of them (80%)" in said
    assert "the 95% intervals 19 of them (95%)" in said


def test_the_sensors_own_pairs_are_counted_apart(client, ana):
    said = words(shown(client, ana, own=[0.1, 0.2, -0.3, 1.0, 1.5, -2.0], others=[0.2] * 9))
    assert "Of the 6 pairs of left wrist on run, the 80% intervals held 4." in said


def test_under_five_pairs_of_its_own_nothing_is_counted(client, ana):
    said = words(shown(client, ana, own=[0.1], others=[0.2] * 9))
    assert "left wrist on run has 1 pair of its own: too few to judge." in said


def test_without_a_pair_of_its_own_it_says_so(client, ana):
    said = words(shown(client, ana, others=[0.2] * 9))
    assert "left wrist on run has no pair of its own yet." in said


@pytest.mark.parametrize(("pairs", "said"), [(0, "No pair so far"), (4, "4 pairs so far")])
def test_under_five_pairs_in_all_nothing_is_judged_or_drawn(client, ana, pairs, said):
    page = shown(client, ana, own=[0.1] * pairs)
    assert f"{said}: too few to judge how well the log foretells." in words(page)
    assert "promises-spec" not in page
    assert "intervals held" not in page


@pytest.mark.parametrize(
    ("share", "said"),
    [(0.6, "too narrow"), (0.8, "as often as they should"), (0.98, "wider than they could")],
)
def test_counts_are_judged_by_what_chance_leaves(share, said):
    assert said in judgement(46, share)


def test_few_pairs_are_not_called_too_narrow_for_one_miss():
    assert "as often as they should" in judgement(5, 0.6)


def test_what_the_prediction_rests_on_is_said_heaviest_first_with_the_light_ones_together(client, ana):
    said = unescape(words(shown(client, ana, own=[0.1] * 5)))
    assert (
        "The prediction for this family of work (steady endurance) rests mostly on the trace's features and "
        "your rating (84%), some on an average ratio (7%), the rest (9%) on others."
    ) in said


def test_where_a_rating_counts_it_is_said_what_a_session_without_one_goes_by(client, ana):
    assert "without a rating goes by the trace" in words(shown(client, ana, own=[0.1] * 5))


def test_where_no_rating_counts_none_is_spoken_of(client, ana):
    said = words(shown(client, ana, own=[0.1] * 5, weights={"few features": 1.0}))
    assert "rests mostly on a few features of the trace (100%)." in said
    assert "without a rating" not in said


def test_every_candidate_has_its_words():
    assert list(CANDIDATES) == NAMES


@pytest.mark.parametrize(
    ("width", "said"), [(0.86, "14% narrower"), (1.2, "20% wider"), (1.001, "by themselves make them")]
)
def test_the_learned_width_is_said(width, said):
    assert said in width_in_words(width, own_pairs=4)


def test_other_pairs_lend_no_narrowness_to_a_sensor_without_its_own():
    assert "Without a pair of its own" in width_in_words(0.86, own_pairs=0)
    assert "20% wider" in width_in_words(1.2, own_pairs=0)


def test_the_share_that_intervals_held_is_drawn_over_what_chance_leaves(client, ana):
    drawn = spec(shown(client, ana, own=[0.1] * 5, others=[2.0] * 5), "promises-spec")
    alt.LayerChart.from_dict(drawn)
    at = {row["wanted"]: row["held"] for row in drawn["datasets"]["lines"]}
    assert (at[50.0], at[80.0], at[100.0]) == (50.0, 50.0, 100.0)
    chance = {row["wanted"]: (row["low"], row["high"]) for row in drawn["datasets"]["chance"]}
    # Binomial, 10 trials of 0.8: 5% and 95% quantiles 6 and 10.
    assert chance[80.0] == (60.0, 100.0)


def test_without_a_count_no_band_of_chance_is_drawn():
    assert "chance" not in charts.calibration({"all": np.array([0.2, 0.7])})["datasets"]


def test_a_fit_that_kept_no_calibration_shows_none(client, ana):
    worn = sensor(ana)
    learned(ana, worn)
    page = client.get(f"/sensors/{worn.pk}/activities/{activity_of(ana, 'run').pk}").content.decode()
    assert "How well it foretells" not in page


def test_chances_are_of_being_as_near_as_the_athlete_asked_when_it_was_learned(client, ana):
    page = words(shown(client, ana, own=[0.1] * 5))
    assert "Within 7% of the strap, as it stands" in page
    assert "Within 7% of the strap, corrected" in page
    assert "within 7% of the strap: 30% as it stands" in words(client.get("/sensors/").content.decode())


def test_a_fit_that_kept_no_nearness_goes_by_the_account(client, ana):
    ana.near_per_cent = 4
    ana.save()
    learned(ana, sensor(ana))
    assert "within 4% of the strap" in words(client.get("/sensors/").content.decode())


def test_a_profile_shows_its_remarks(client, ana):
    page = words(shown(client, ana, own=[0.1] * 5, remarks=[CHANGED, CHOSEN]))
    assert CHANGED in page
    assert CHOSEN in page


def test_the_sensors_page_marks_remarks_briefly_and_gives_them_with_the_reason(client, ana):
    learned(ana, sensor(ana), remarks=[CHANGED, CHOSEN])
    page = words(client.get("/sensors/").content.decode())
    assert "changed since 3 March 2026 strap days unlike the others" in page
    assert CHANGED in page
    assert CHOSEN in page


def test_a_remark_of_another_kind_still_has_a_mark():
    assert wording.brief("Something else was found.") == "see why"


def test_what_is_learned_keeps_how_near_a_load_had_to_be():
    owner = athlete_with_physiology(athlete())
    owner.near_per_cent = 6
    owner.save()
    strap(owner)
    while not learn(owner):
        pass
    assert Fit.objects.of(owner).get().calibration["near_per_cent"] == 6
