import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainlog.load.monotony import monotony, strain
from trainlog.load.trend import TrendDays, trend
from trainlog.load.trend_figures import FIGURES, week_figures

DRAWS = 200


def loads(days, seed=1):
    return np.random.default_rng(seed).gamma(1, 60, (days, DRAWS))


def second_week(daily):
    course = trend(daily)
    week = trend(daily[7:], before=course.after(6))
    return week_figures(daily[1:], week)


def of(figures, name):
    return figures[:, FIGURES.index(name)]


def test_each_figure_is_low_median_and_high_of_its_draws():
    daily = loads(14)
    figures, course = second_week(daily), trend(daily)
    for name in ("acute", "chronic", "slow", "fast"):
        expected = np.quantile(getattr(course, name)[7:], [0.1, 0.5, 0.9], axis=1).T
        assert of(figures, name) == pytest.approx(expected)
    assert of(figures, "net_response")[6] == pytest.approx(
        np.quantile(course.slow[13] - 2 * course.fast[13], [0.1, 0.5, 0.9])
    )


def test_the_load_of_the_week_grows_from_monday():
    figures = second_week(np.full((14, DRAWS), 10.0))
    assert of(figures, "week")[:, 1].tolist() == [10, 20, 30, 40, 50, 60, 70]


def test_monotony_and_strain_are_of_the_seven_days_that_end_with_the_day():
    daily = loads(14)
    figures = second_week(daily)
    assert of(figures, "monotony")[2] == pytest.approx(np.quantile(monotony(daily[3:10]), [0.1, 0.5, 0.9]))
    assert of(figures, "strain")[6] == pytest.approx(np.quantile(strain(daily[7:]), [0.1, 0.5, 0.9]))


def test_before_seven_days_are_there_monotony_and_strain_are_not_told():
    daily = loads(7)
    figures = week_figures(daily, trend(daily))
    assert np.isnan(of(figures, "monotony")[:6]).all()
    assert np.isfinite(of(figures, "strain")[6]).all()


def test_seven_days_of_rest_have_no_monotony_and_a_log_of_rest_no_ratio():
    figures = second_week(np.zeros((14, DRAWS)))
    for name in ("monotony", "strain", "ratio"):
        assert np.isnan(of(figures, name)).all()
    assert not of(figures, "load").any()


@given(st.floats(0.1, 10), st.integers(0, 1000))
def test_loads_in_another_unit_give_figures_in_that_unit(factor, seed):
    daily = loads(14, seed)
    plain, scaled = second_week(daily), second_week(factor * daily)
    for name in FIGURES:
        times = 1 if name in {"monotony", "ratio"} else factor
        assert of(scaled, name) == pytest.approx(times * of(plain, name), rel=1e-6, nan_ok=True)


@given(st.integers(1, 6), st.integers(0, 1000))
def test_changing_a_day_changes_no_earlier_figure(place, seed):
    daily = loads(14, seed)
    changed = daily.copy()
    changed[7 + place :] += 100
    assert np.array_equal(second_week(changed)[:place], second_week(daily)[:place], equal_nan=True)


def test_windows_are_plain_means_of_the_days_of_the_averages_and_end_with_the_day():
    daily = loads(14)
    course = trend(daily)
    spans = TrendDays(acute=3, chronic=10)
    figures = week_figures(daily, course, spans)
    assert of(figures, "acute_window")[9] == pytest.approx(
        np.quantile(daily[7:10].mean(axis=0), [0.1, 0.5, 0.9])
    )
    assert of(figures, "chronic_window")[13] == pytest.approx(
        np.quantile(daily[4:].mean(axis=0), [0.1, 0.5, 0.9])
    )
    assert np.isnan(of(figures, "chronic_window")[:9]).all()


def test_windows_agree_with_a_table_library():
    daily = loads(40)
    figures = week_figures(daily, trend(daily))
    expected = pd.DataFrame(daily).rolling(28).mean().quantile(0.5, axis=1)
    assert of(figures, "chronic_window")[27:, 1] == pytest.approx(expected[27:].to_numpy())
