"""Errors of sensors worn together, and their comparison over sessions."""

import dataclasses
import math

import numpy as np
import pytest

from accuracy.core.agreement import differences
from accuracy.core.agreement.sensor_comparison import (
    UNITS,
    compare_sensors,
    errors_on_common_seconds,
    together,
)

REFERENCE = 130 + 20 * np.sin(np.arange(600) / 40)


def error(tested, reference=REFERENCE, load_of=np.sum):
    (found,) = errors_on_common_seconds(reference, [tested], load_of)
    return found


def errors(offsets, noise=0.0):
    chance = np.random.default_rng(3)
    return [error(REFERENCE + offset + chance.normal(0, noise, 600)) for offset in offsets]


def test_only_seconds_valid_in_the_reference_and_in_every_sensor_count():
    reference, first, second = REFERENCE.copy(), REFERENCE + 2, REFERENCE - 4
    reference[:50] = first[50:90] = second[90:100] = np.nan

    found = errors_on_common_seconds(reference, [first, second], None)

    assert [one.seconds for one in found] == [500, 500]
    assert [one.bias for one in found] == pytest.approx([2, -4])
    assert found[0].reference_mean == pytest.approx(REFERENCE[100:].mean())


def test_a_sessions_figures_are_those_of_the_agreement_of_a_pair():
    tested = REFERENCE + np.random.default_rng(1).normal(2, 6, 600)
    found = error(tested)

    assert found.bias == pytest.approx(differences.bias(tested - REFERENCE))
    assert found.sd == pytest.approx(differences.sd(tested - REFERENCE))
    assert found.limits_width == pytest.approx(2 * 1.96 * found.sd)
    assert found.mean_absolute_error == pytest.approx(differences.mean_absolute_error(tested - REFERENCE))
    assert found.mean_absolute_percentage_error == pytest.approx(
        differences.mean_absolute_percentage_error(REFERENCE, tested)
    )


def test_a_load_half_and_a_load_twice_as_large_are_equally_far_off():
    half, twice = error(REFERENCE / 2), error(REFERENCE * 2)

    assert half.load_error == pytest.approx(twice.load_error) == pytest.approx(100 * math.log(2))


def test_without_physiology_the_load_is_not_compared_and_the_rest_is():
    found = compare_sensors([error(REFERENCE + 3, load_of=None)] * 3, [error(REFERENCE + 1)] * 3)

    assert found.figures["load_error"].sessions == 0
    assert found.main.sessions == 3


def test_fewer_than_two_common_seconds_are_nothing_to_compare():
    nothing = np.full(600, np.nan)

    assert errors_on_common_seconds(REFERENCE, [REFERENCE, nothing], None) is None


def test_traces_of_unequal_length_are_refused():
    with pytest.raises(ValueError, match="as many seconds"):
        errors_on_common_seconds(REFERENCE, [REFERENCE[:-1]], None)


def test_parts_put_together_err_as_their_seconds_do():
    tested = REFERENCE + np.random.default_rng(2).normal(-3, 4, 600)
    halves = [error(tested[:200], REFERENCE[:200]), error(tested[200:], REFERENCE[200:])]

    whole = dataclasses.asdict(error(tested))

    assert dataclasses.asdict(together(halves)) == pytest.approx(whole)


def test_swapping_the_sensors_turns_every_sign():
    first, second = errors([1, -2, 4], 3), errors([5, 0, 2], 5)

    one, other = compare_sensors(first, second), compare_sensors(second, first)

    for name in UNITS:
        assert one.figures[name].difference == pytest.approx(-other.figures[name].difference)


def test_the_same_sensor_twice_differs_in_nothing():
    same = errors([1, -2, 4], 3)

    assert {figure.difference for figure in compare_sensors(same, same).figures.values()} == {0}


def test_the_nearer_sensor_has_the_smaller_error():
    found = compare_sensors(errors([1, 1, 1, 1], 2), errors([6, 7, 5, 6], 2))

    assert found.main.high < 0
    assert found.sessions == 4


def test_two_sessions_give_figures_without_intervals():
    found = compare_sensors(errors([1, 2]), errors([3, 4]))

    assert found.main.difference == pytest.approx(-2)
    assert not any(figure.has_interval for figure in found.figures.values())
    assert found.bias_variance is None
