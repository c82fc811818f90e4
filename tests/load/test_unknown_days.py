import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainlog.load.draws import DRAWS, stratified_uniforms
from trainlog.load.unknown_days import DAYS_BEFORE, with_unknown_drawn


def uniforms(day):
    return stratified_uniforms(f"day {day}")


def days(*loads):
    return np.repeat(np.array(loads, dtype=float)[:, None], DRAWS, axis=1)


def unknown(count, *places):
    marks = np.zeros(count, bool)
    marks[list(places)] = True
    return marks


def test_an_unknown_day_takes_each_known_day_before_it_equally_often():
    drawn = with_unknown_drawn(days(10, 20, 0, 40, 0), unknown(5, 4), uniforms)[4]
    values, counts = np.unique(drawn, return_counts=True)
    assert values.tolist() == [0, 10, 20, 40]
    assert counts.tolist() == [128, 128, 128, 128]


def test_a_draw_stays_the_draw_of_the_day_it_is_taken_from():
    logged = np.tile(np.arange(DRAWS, dtype=float), (8, 1))
    assert with_unknown_drawn(logged, unknown(8, 7), uniforms)[7].tolist() == logged[0].tolist()


def test_what_is_logged_on_an_unknown_day_is_the_least_it_was():
    drawn = with_unknown_drawn(days(10, 50, 30), unknown(3, 2), uniforms)[2]
    assert sorted(set(drawn)) == [30, 50]


def test_an_unknown_day_is_not_drawn_from_another():
    drawn = with_unknown_drawn(days(10, 0, 0), unknown(3, 1, 2), uniforms)
    assert set(drawn[2]) == {10}


def test_where_nothing_is_known_before_it_a_day_is_what_is_logged():
    assert np.array_equal(with_unknown_drawn(days(0, 10), unknown(2, 0), uniforms), days(0, 10))


def test_days_long_past_stand_in_only_where_none_of_the_last_weeks_is_known():
    known_long_ago = days(90, *[0] * DAYS_BEFORE, 0)
    recent = unknown(DAYS_BEFORE + 2, DAYS_BEFORE + 1)
    assert set(with_unknown_drawn(known_long_ago, recent, uniforms)[-1]) == {0}
    all_unknown = ~unknown(DAYS_BEFORE + 2, 0)
    assert set(with_unknown_drawn(known_long_ago, all_unknown, uniforms)[-1]) == {90}


def test_a_day_without_any_value_is_refused():
    with pytest.raises(ValueError, match="every day needs a load"):
        with_unknown_drawn(np.full((2, DRAWS), np.nan), unknown(2, 1), uniforms)


@given(st.data())
def test_no_day_depends_on_a_later_one(data):
    count = data.draw(st.integers(2, 80))
    rng = np.random.default_rng(data.draw(st.integers(0, 2**32)))
    logged = rng.gamma(1, 50, (count, 16))
    marks = rng.random(count) < 0.3
    cut = data.draw(st.integers(1, count - 1))

    def few(day):
        return stratified_uniforms(f"day {day}", count=16)

    whole = with_unknown_drawn(logged, marks, few)
    changed, changed_marks = logged.copy(), marks.copy()
    changed[cut:] *= 3
    changed_marks[cut:] = ~marks[cut:]
    assert np.array_equal(with_unknown_drawn(changed, changed_marks, few)[:cut], whole[:cut])
