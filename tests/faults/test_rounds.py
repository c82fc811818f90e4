"""A few rounds of faults; ``make faults`` plays two hundred. See ``tests/faults/rounds``."""

import pytest

from tests.faults.rounds.__main__ import rounds, table

pytestmark = pytest.mark.faults


ROUNDS = 5


@pytest.mark.parametrize(("postgres", "first"), [(False, 6), (True, 0)], ids=["sqlite", "postgres"])
def test_a_log_ends_the_same_to_the_bit_whatever_was_killed_filled_or_lost(tmp_path, postgres, first):
    outcomes = rounds(tmp_path / "world", ROUNDS, postgres=postgres, first=first)
    assert len(outcomes) == ROUNDS
    assert [(one.fault, one.wrong) for one in outcomes if one.wrong] == [], table(outcomes)
