import pytest

from trainlog.telling.context import valid_or_new


@pytest.mark.parametrize("offered", ["4bf92f3577b34da6", "3f1c0de2-8d4e-4c0b-9d06-7c1a2f0b9e55", "A" * 64])
def test_an_id_that_a_proxy_gave_is_kept(offered):
    assert valid_or_new(offered) == offered


@pytest.mark.parametrize(
    "offered", [None, "", "short", "A" * 65, "two words here", "line\nline-line", "ä" * 10]
)
def test_what_is_no_id_is_replaced_by_a_new_one(offered):
    made = valid_or_new(offered)
    assert made != offered
    assert valid_or_new(made) == made


def test_no_two_requests_get_the_same_id():
    assert len({valid_or_new(None) for _ in range(100)}) == 100
