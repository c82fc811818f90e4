"""Candidates side by side, weighed by what they foretold, as one prediction."""

import numpy as np
import pytest

from accuracy.core.learning.features import FEATURES
from accuracy.core.learning.priors import FAMILIES
from accuracy.core.learning.profile import Cell
from accuracy.core.learning.wrist_fit import CANDIDATES, RATING, WristPair, WristSession, learn_wrist
from accuracy.core.traces.states import States
from trainlog.load.draws import DRAWS
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.trimp import MEN

BODY = PhysiologyDraws(50.0, 190.0, 0.0, 0.0, MEN, 1)

RUN = Cell("wrist", "", "steady", "run")
LIFTING = Cell("wrist", "", "resistance", "lifting")

SEED = 7


def states(difference=np.nan):
    ones = np.ones(2, dtype=np.int64)
    seconds = np.array([1200.0, 1800.0])
    return States(
        np.array([110.0, 150.0]), 2 * ones, 3 * ones, 0 * ones, seconds, np.full(2, float(difference))
    )


def session(cell, content, *, features=None):
    known = np.zeros(len(FEATURES)) if features is None else features
    return WristSession(cell, f"{cell.activity}/{content}", known, states(), BODY)


def pairs(cell, count, *, centre=0.2, spread=0.05, told_by=None, seed=0, together=False):
    """Pairs whose log ratio is a centre, chance, and 0.15 for every usual departure of one feature."""
    rng = np.random.default_rng((seed, count))
    found = []
    for place in range(count):
        features, chance = rng.standard_normal(len(FEATURES)), spread * rng.standard_normal()
        told = 0.15 * features[told_by] if told_by is not None else 0.0
        one = session(cell, place, features=features)
        workout = "one" if together else one.content
        found.append(WristPair(one, centre + chance + told, states(3.0), workout, 100.0))
    return found


def learned(*groups):
    return learn_wrist([pair for group in groups for pair in group], seed=SEED)


def width(draws):
    low, high = np.quantile(draws, [0.1, 0.9])
    return high - low


def test_without_pairs_the_priors_wide_draws_speak():
    nothing, foretold = learned()
    draws = nothing.further_session(session(LIFTING, "x"))
    assert foretold == []
    assert nothing.log_scores == {}
    assert nothing.width == 1.0
    assert width(draws) > 0.4
    assert np.median(draws) == pytest.approx(0.20, abs=0.06)


def test_without_pairs_no_session_is_outside():
    nothing, _ = learned()
    assert nothing.outside(session(RUN, "x", features=np.full(len(FEATURES), 50.0))) == {}


def test_pairs_draw_a_further_session_to_their_own_ratio():
    fit, _ = learned(pairs(RUN, 20, centre=0.3))
    assert np.median(fit.further_session(session(RUN, "x"))) == pytest.approx(0.3, abs=0.03)


def test_more_pairs_narrow_a_further_session():
    widths = [width(learned(pairs(RUN, count))[0].further_session(session(RUN, "x"))) for count in (0, 4, 60)]
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] == pytest.approx(2 * 1.2816 * 0.05, rel=0.3)


def test_the_order_of_pairs_changes_nothing_to_the_bit():
    known = pairs(RUN, 6) + pairs(LIFTING, 5)
    shuffled = [known[place] for place in np.random.default_rng(1).permutation(len(known))]
    (one, foretold), (other, foretold_too) = learned(known), learned(shuffled)
    asked = session(RUN, "x", features=np.full(len(FEATURES), 0.5))
    assert np.array_equal(one.further_session(asked), other.further_session(asked))
    assert np.array_equal(one.weights, other.weights)
    assert one.width == other.width
    assert [pair.score for pair in foretold] == [pair.score for pair in foretold_too]


def test_a_pair_of_another_activity_leaves_the_draws_nearly_as_they_were():
    before, _ = learned(pairs(RUN, 8))
    after, _ = learned(pairs(RUN, 8), pairs(LIFTING, 1))
    one, other = (fit.further_session(session(RUN, "x")) for fit in (before, after))
    assert np.corrcoef(one, other)[0, 1] > 0.95


def test_two_sessions_share_what_is_not_known_of_both():
    fit, _ = learned(pairs(LIFTING, 2))
    first, second = (fit.further_session(session(LIFTING, name)) for name in ("first", "second"))
    assert np.corrcoef(first, second)[0, 1] > 0.2


def test_what_is_peculiar_to_a_session_is_its_own():
    fit, _ = learned(pairs(LIFTING, 4))
    constant = fit.candidates["constant"]
    own = [
        constant.further_session(LIFTING, content) - constant.expected(LIFTING)
        for content in ("first", "second")
    ]
    assert abs(np.corrcoef(*own)[0, 1]) < 4 / np.sqrt(DRAWS)


def test_the_same_session_gets_the_same_draws_again():
    fit, _ = learned(pairs(RUN, 5))
    assert np.array_equal(fit.further_session(session(RUN, "x")), fit.further_session(session(RUN, "x")))


def test_a_session_far_outside_is_widened_and_the_feature_named():
    fit, _ = learned(pairs(RUN, 20))
    far = np.zeros(len(FEATURES))
    far[FEATURES.index("length")] = 15.0
    inside, outside = session(RUN, "x"), session(RUN, "x", features=far)
    assert fit.outside(inside) == {}
    assert list(fit.outside(outside)) == ["length"]
    assert width(fit.further_session(outside)) > 1.3 * width(fit.further_session(inside))


def test_the_farther_outside_the_wider_and_never_beyond_the_prior():
    fit, _ = learned(pairs(RUN, 20))
    spreads = []
    for distance in (0.0, 5.0, 10.0, 1000.0):
        far = np.zeros(len(FEATURES))
        far[FEATURES.index("length")] = distance
        spreads.append(np.std(fit.further_session(session(RUN, "x", features=far))))
    assert spreads == sorted(spreads)
    assert spreads[-1] < 1.1 * np.std(learned()[0].prior.further_session(RUN, "run/x"))


def test_an_unknown_feature_is_never_outside():
    fit, _ = learned(pairs(RUN, 20))
    assert fit.outside(session(RUN, "x", features=np.full(len(FEATURES), np.nan))) == {}


def test_the_sensors_texture_alone_puts_no_session_outside():
    fit, _ = learned(pairs(RUN, 20))
    rough = np.zeros(len(FEATURES))
    rough[FEATURES.index("roughness")] = 50.0
    assert fit.outside(session(RUN, "x", features=rough)) == {}


def test_a_rating_that_tells_of_the_error_narrows_the_interval():
    told, _ = learned(pairs(RUN, 40, told_by=RATING))
    unknown = np.zeros(len(FEATURES))
    unknown[RATING] = np.nan
    silent = pairs(RUN, 40, told_by=RATING)
    for pair in silent:
        pair.session.features[RATING] = np.nan
    untold, _ = learned(silent)
    assert width(told.further_session(session(RUN, "x"))) < 0.7 * width(
        untold.further_session(session(RUN, "x", features=unknown))
    )


def test_a_rating_that_tells_of_the_error_moves_the_ratio():
    fit, _ = learned(pairs(RUN, 40, told_by=RATING))
    medians = []
    for rating in (-1.0, 1.0):
        features = np.zeros(len(FEATURES))
        features[RATING] = rating
        medians.append(np.median(fit.further_session(session(RUN, "x", features=features))))
    assert medians[1] - medians[0] == pytest.approx(0.30, abs=0.06)


def test_a_rating_that_tells_nothing_has_no_say():
    fit, _ = learned(pairs(RUN, 40))
    assert not fit.leans_on_rating(session(RUN, "x"))


def test_a_telling_rating_has_a_say_only_in_sessions_that_have_one():
    fit, _ = learned(pairs(RUN, 40, told_by=RATING))
    unrated = np.zeros(len(FEATURES))
    unrated[RATING] = np.nan
    assert fit.leans_on_rating(session(RUN, "x"))
    assert not fit.leans_on_rating(session(RUN, "x", features=unrated))


def test_candidates_that_know_the_telling_feature_weigh_more():
    fit, _ = learned(pairs(RUN, 40, told_by=RATING))
    weight = dict(zip(fit.candidates, fit.weights[FAMILIES.index("steady")], strict=True))
    assert weight["few features and rating"] > 0.7
    assert fit.log_scores["few features and rating"] > fit.log_scores["constant"] + 0.3


def test_weights_of_every_family_add_up_to_one():
    fit, _ = learned(pairs(RUN, 6), pairs(LIFTING, 3))
    assert fit.weights.shape == (len(FAMILIES), len(CANDIDATES))
    assert fit.weights.sum(axis=1) == pytest.approx(np.ones(len(FAMILIES)))


def test_every_pair_is_foretold_in_the_order_of_content():
    known = pairs(LIFTING, 3) + pairs(RUN, 6)
    _, foretold = learned(known)
    contents = [one.pair.session.content for one in foretold]
    assert contents == sorted(pair.session.content for pair in known)


def test_scores_scatter_as_standard_normals_where_chance_alone_is_left():
    _, foretold = learned(pairs(RUN, 60))
    scores = np.array([one.score for one in foretold])
    assert np.mean(scores) == pytest.approx(0.0, abs=0.4)
    assert np.std(scores) == pytest.approx(1.0, abs=0.25)


def test_pairs_of_one_workout_do_not_foretell_each_other():
    apart, together = (
        learned(pairs(RUN, 6, centre=0.6, spread=0.01, together=together))[1] for together in (False, True)
    )
    assert min(one.score for one in together) > 1 > max(abs(one.score) for one in apart)


def test_a_session_of_an_instrument_never_seen_is_wider_than_one_of_the_known():
    fit, _ = learned(pairs(RUN, 20))
    other = Cell("another", "", "steady", "run")
    assert width(fit.further_session(session(other, "x"))) > width(fit.further_session(session(RUN, "x")))


def test_trace_coefficients_are_kept_for_the_seen_and_the_unseen():
    fit, _ = learned(pairs(RUN, 3), pairs(LIFTING, 2))
    assert set(fit.trace_coefficients) == {"", RUN.group, LIFTING.group}
    assert fit.gain(session(RUN, "x")) > 0
