"""The small version of ``benchmarks/alignment.py``: shifts injected into invented pairs.

Issue 3's bars: within 1 s for 95% of the shifts of traces that correlate above 0.9, and wrong by more than
2 s yet confident in fewer than 1%. The full table is the benchmark's.
"""

import pytest

from benchmarks.alignment import invented, short, spoiled, summary


@pytest.fixture(scope="module")
def outcomes():
    return invented(90)


@pytest.fixture(scope="module")
def spoiled_outcomes():
    return spoiled(24)


def test_shifts_of_traces_that_correlate_are_found_to_a_second(outcomes):
    alike = summary(row for row in outcomes if row.correlation > 0.9)
    assert alike["shifts"] >= 30
    assert alike["within 1 s"] >= 0.95


def test_hardly_any_shift_is_wrong_and_confident(outcomes, spoiled_outcomes):
    assert summary(outcomes)["wrong, confident"] < 0.01
    assert summary(spoiled_outcomes)["wrong, confident"] < 0.01


def test_hardly_any_shift_of_a_short_session_is_wrong_and_confident():
    figures = summary(short(40))
    assert figures["shifts"] == 200
    assert figures["wrong, confident"] < 0.01


def test_most_errors_lie_within_twice_the_standard_error(outcomes):
    assert summary(outcomes)["in 2 std. errors"] >= 0.8


@pytest.mark.parametrize(
    ("what", "confident"),
    [("half of another session", 0.5), ("half at the step rate", 0.5), ("eight drop-outs", 0.75)],
)
def test_spoiled_traces_are_mostly_aligned_all_the_same(spoiled_outcomes, what, confident):
    assert summary(row for row in spoiled_outcomes if row.group == what)["confident"] >= confident


def test_traces_with_nothing_in_common_are_never_aligned(spoiled_outcomes):
    assert all(row.ambiguous for row in spoiled_outcomes if row.group == "nothing in common")
