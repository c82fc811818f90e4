import pytest

from trainlog.load.session_rpe import session_rpe_load


def test_the_load_is_rating_times_minutes():
    """Foster C et al. (2001), J Strength Cond Res 15(1):109-115: the definition."""
    assert session_rpe_load(5, 60) == 300
    assert session_rpe_load(7.5, 40) == 300


def test_rest_has_no_load():
    assert session_rpe_load(0, 60) == 0


@pytest.mark.parametrize("rating", [-0.1, 10.1, float("nan")])
def test_a_rating_off_the_scale_is_refused(rating):
    with pytest.raises(ValueError, match="between 0 and 10"):
        session_rpe_load(rating, 60)


def test_a_negative_length_is_refused():
    with pytest.raises(ValueError, match="less than nothing"):
        session_rpe_load(5, -1)
