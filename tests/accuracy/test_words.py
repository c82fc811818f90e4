import pytest

from accuracy import words


@pytest.mark.parametrize(
    ("ratio", "shown"), [(1 / 0.88, "reads 12% low"), (1 / 1.03, "reads 3% high"), (1.001, "reads true")]
)
def test_a_ratio_says_how_the_sensor_reads(ratio, shown):
    assert words.reading(ratio) == shown


@pytest.mark.parametrize(
    ("low", "high", "shown"),
    [
        (1 / 0.96, 1 / 0.81, "4–19% low"),
        (1 / 1.09, 1 / 1.02, "2–9% high"),
        (1 / 1.05, 1 / 0.9, "10% low to 5% high"),
    ],
)
def test_a_range_of_ratios_goes_from_near_to_far(low, high, shown):
    assert words.reading_range(low, high) == shown


@pytest.mark.parametrize(("probability", "shown"), [(0.0, "5%"), (0.41, "40%"), (0.999, "95%")])
def test_a_chance_is_never_certain(probability, shown):
    assert words.chance(probability) == shown


@pytest.mark.parametrize("reason", ["before_lock_on", 64])
def test_a_flagged_stretch_is_in_words_with_its_times(reason):
    assert words.flagged(0, 130, reason) == "0:00 to 2:10: possibly before the sensor locked on"


def test_a_reason_that_is_not_known_is_shown_as_it_stands():
    assert words.meaning("sat on the sensor") == "sat on the sensor"


@pytest.mark.parametrize(("ratio", "shown"), [(0.88, "−12%"), (1.031, "+3%"), (1.0, "0%")])
def test_a_difference_carries_a_true_sign(ratio, shown):
    assert words.difference(ratio) == shown
