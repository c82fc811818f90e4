import pytest

from tests.builders import athlete
from trainlog.models import Physiology

pytestmark = pytest.mark.django_db

TEST = "112 1.1\n126 1,2\n140; 1.6\n154, 2.4\n\n168 bpm 4.0 mmol/l\n182\t7.5"
"""The six stages of tests/published/test_individual_weighting_values.py, each written otherwise."""


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def enter(client, **changes):
    figures = {
        "from_day": "2026-03-01",
        "resting_rate": "50",
        "resting_error": "3",
        "maximum_rate": "190",
        "maximum_source": "measured",
        "maximum_error": "3",
        "weighting": "own",
        "lactate_points": TEST,
    }
    return client.post("/account/physiology", figures | changes)


def refused(client, **changes):
    response = enter(client, **changes)
    assert response.status_code == 422
    assert not Physiology.objects.exists()
    return response.content.decode()


def test_an_own_weighting_is_fitted_to_the_stages(client, ana):
    assert enter(client)["Location"] == "/"
    row = Physiology.objects.of(ana).get()
    assert row.lactate_points == [[112, 1.1], [126, 1.2], [140, 1.6], [154, 2.4], [168, 4.0], [182, 7.5]]
    assert (row.own_factor, row.own_exponent) == pytest.approx((0.1559999581, 3.8900993499))
    assert row.load_weighting.a == row.own_factor


def test_the_fit_goes_by_the_rows_own_resting_and_maximum(client, ana):
    enter(client, resting_rate="60")
    assert Physiology.objects.get().own_factor != pytest.approx(0.156, abs=0.001)


def test_the_stages_go_before_typed_constants(client, ana):
    enter(client, own_factor="9", own_exponent="9")
    assert Physiology.objects.get().own_exponent == pytest.approx(3.8900993499)


def test_the_fitted_curve_and_the_stages_are_shown_again(client, ana):
    enter(client)
    row = Physiology.objects.get()
    assert "0.156 × e<sup>3.89 x</sup> mmol/l" in client.get("/account").content.decode()
    shown = client.get(f"/account/physiology?row={row.pk}").content.decode()
    assert "Fitted to 6 stages" in shown
    assert "112 1.1\n126 1.2\n140 1.6" in shown
    assert 'name="own_factor" value' not in shown


def test_a_new_row_takes_the_stages_along_and_fits_them_anew(client, ana):
    enter(client)
    assert "112 1.1\n126 1.2" in client.get("/account/physiology").content.decode()


def test_under_another_weighting_the_stages_are_kept_and_not_used(client, ana):
    enter(client, weighting="men")
    row = Physiology.objects.get()
    assert (len(row.lactate_points), row.own_factor, row.fitted_to_test) == (6, None, False)
    assert "e<sup>" not in client.get("/account").content.decode()


def test_constants_without_a_test_still_do(client, ana):
    enter(client, lactate_points="", own_factor="0.5", own_exponent="2.5")
    assert Physiology.objects.get().own_factor == 0.5


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("112 1.1\n126\n140 1.6", "Line 2, “126”, is no stage"),
        ("112 1.1\n\nabout 126 1.2", "Line 3, “about 126 1.2”, is no stage"),
        ("1.1 112", "Line 1"),
        ("112 1.1\n260 1.2", "Line 2: a heart rate of a stage lies between 30 and 240 bpm"),
        ("112 1.1\n126 0", "Line 2: blood lactate lies above 0"),
        ("112 1.1\n126 41", "Line 2: blood lactate lies above 0 and up to 40 mmol/l"),
        ("112 1.1 7", "Line 1"),
        ("100 1\n" * 31, "at most 30 stages, not 31"),
        ("112" + " " * 20000 + "x", "Line 1"),
    ],
)
def test_a_line_that_is_no_stage_is_named(client, ana, text, words):
    shown = refused(client, lactate_points=text)
    assert words in shown
    assert text.splitlines()[0][:40] in shown


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("112 1.1\n126 1.2\n140 1.6", "at least 4 points are needed, not 3"),
        ("112 4\n126 3\n140 2\n154 1", "lactate must rise with heart rate"),
        ("112 1\n126 1.2\n140 1.6\n195 9", "every point must lie between resting and maximum heart rate"),
        ("140 1\n142 1.2\n144 1.6\n146 9", "the points must span at least a fifth of the heart-rate reserve"),
    ],
)
def test_stages_that_make_no_curve_are_explained_beside_them(client, ana, text, words):
    shown = refused(client, lactate_points=text)
    assert f"No weighting can be fitted: {words}" in shown
    assert 'id="id_lactate_points_error"' in shown


def test_neither_constants_nor_a_test_is_explained(client, ana):
    assert "or a lactate test to fit them to" in refused(client, lactate_points="")
