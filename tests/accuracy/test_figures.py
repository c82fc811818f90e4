import pytest

from accuracy.core.traces.align import Shift
from accuracy.shown import condition_lines, figures, practice
from accuracy.shown.figures import Figure
from trainlog.web.words import DASH


def row(families, label):
    return next(row for family in families for row in family.rows if row.label == label)


def test_a_figure_of_a_pair_takes_the_interval_that_stands_beside_it():
    found = figures.of_pair({"bias": -3.0, "bias_low": -4.0, "bias_high": -2.0, "sd": None})
    assert found["bias"] == Figure(-3.0, -4.0, -2.0)
    assert found["sd"] == Figure(None)


def test_a_figure_over_sessions_holds_its_interval():
    pooled = {
        "sessions": 4,
        "bias": {"value": -3.0, "low": -4.0, "high": -2.0},
        "equivalence": {"margin": 5.0, "p": 0.01, "interval": [-4.0, -2.0], "equivalent": True},
    }
    families = figures.families(figures.of_pooled(pooled), pooled=True)
    assert row(families, "bias").interval == "−4.0 to −2.0"
    assert row(families, "90% interval of the bias").value == "−4.0 to −2.0"
    assert row(families, "bias within the margin").value == "yes"


@pytest.mark.parametrize("pooled", [True, False])
def test_figures_that_are_not_there_are_a_dash(pooled):
    families = figures.families({}, pooled=pooled)
    assert {row.value for family in families for row in family.rows} == {DASH}
    assert not any(family.has_intervals for family in families)


def test_every_family_says_how_it_is_read():
    assert all(family.explanation.endswith(".") for family in figures.families({}, pooled=False))


def test_a_slope_is_told_as_a_change_over_ten_beats():
    families = figures.families({"regression_slope": Figure(-0.12, -0.2, -0.04)}, pooled=True)
    change = row(families, "change of the bias per 10 bpm")
    assert (change.value, change.unit, change.interval) == ("−1.2", "bpm", "−2.0 to −0.4")


def test_a_correlation_is_given_with_its_band_as_orientation():
    families = figures.families({"pearson_r": Figure(0.88)}, pooled=False)
    assert row(families, "correlation (Pearson)").note == "not ideal, as orientation"


@pytest.mark.parametrize(("p", "words"), [(0.0001, "p < 0.001"), (0.9999, "p > 0.999"), (0.04, "p 0.040")])
def test_a_p_value_is_never_nothing_and_never_certain(p, words):
    families = figures.families({"equivalence": Figure(p), "equivalence_margin": Figure(5.0)}, pooled=False)
    assert row(families, "bias within the margin").note == words


@pytest.mark.parametrize(
    ("bias", "words"), [(-4.21, "reads 4.2 bpm low"), (2, "reads 2.0 bpm high"), (-0.04, "reads true")]
)
def test_a_bias_says_how_the_sensor_reads(bias, words):
    assert figures.reads(bias) == words


def test_a_sensor_that_never_locked_on_is_said_to():
    family = practice.of_pair({"lock_on_seconds": None, "peaks": 0}, None, None, (120.0, 118.0))
    assert row([family], "locked on after").value == "never"
    assert row([family], "difference of the loads").value == DASH


@pytest.mark.parametrize(
    ("shift", "value", "note"),
    [
        (Shift(3.2, 0.9, 0.8, False, "", 0.4), "+3.2", "± 0.4 standard error"),
        (Shift(0.0, 0.5, 0.5, True, ""), DASH, "the traces do not tell"),
        (None, DASH, "not told: the clocks may differ"),
    ],
)
def test_a_lag_is_given_with_its_doubt_or_not_at_all(shift, value, note):
    found = row([practice.of_pair({}, 1.0, shift, (120.0, 118.0))], "follows late by")
    assert (found.value, found.note) == (value, note)


def test_over_sessions_the_middle_one_stands_with_the_range():
    sessions = [
        {"lock_on_seconds": seconds, "peaks": 10, "peaks_missed": missed, "session_peak_difference": -2.0}
        for seconds, missed in ((30.0, 1), (95.0, 3), (None, 4))
    ]
    family = practice.over_sessions(sessions, [-10.0, -4.0, -1.0])
    assert row([family], "peaks missed").value == "8 of 30"
    locked = row([family], "locked on after")
    assert (locked.interval, locked.note) == ("0:30 to 1:35", "never in 1 of 3")
    loads = row([family], "difference of the loads")
    assert (loads.value, loads.interval) == ("−4", "−10 to −1")


def test_without_sessions_there_is_nothing_to_say():
    family = practice.over_sessions([], [])
    assert {row.value for row in family.rows} == {DASH}


def condition(name, seconds, bias, sd):
    return {"condition": name, "seconds": seconds, "bias": bias, "sd": sd}


def test_bars_of_a_table_share_one_scale_that_holds_no_difference():
    low, high = condition_lines.lines(
        [condition("light", 600, -10.0, 5.0), condition("hard", 300, 10.0, 5.0)]
    )
    assert low.bar.left == 0
    assert high.bar.left + high.bar.width == pytest.approx(100)
    assert low.bar.zero == high.bar.zero == pytest.approx(50)
    assert low.bar.bias < low.bar.zero < high.bar.bias


@pytest.mark.parametrize("line", [condition("rest", 0, None, None), condition("rest", 12, -3.0, 1.0)])
def test_a_few_seconds_are_no_bar(line):
    assert condition_lines.lines([line])[0].bar is None
