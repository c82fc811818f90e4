"""Page of the strap plan."""

from datetime import date

import pytest

from accuracy.core.estimates.chance_days import chance_days
from accuracy.models import Fit, PlannedStrap, StrapGain, StrapPlan
from tests.builders import MORNING, activity_of, athlete, sensor
from trainlog.models import Physiology

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    Physiology.objects.create(owner=owner, from_day=MORNING.date(), resting_rate=50, maximum_rate=190)
    return owner


def fit_of(owner):
    nothing = dict.fromkeys(("wrist", "session_rpe", "time_alone", "typical_histogram"), b"")
    fit = Fit.objects.create(owner=owner, inputs_hash="f" * 64, method_version=1, pair_count=4, **nothing)
    owner.current_source = fit.source
    owner.save()
    return fit


def plan_of(owner, *rows, half_width=0.092, parts=20, measured=5, worn_half_width=0.092):
    """Plan with rows of activity, sensor and expected half-width."""
    plan = StrapPlan.objects.create(
        owner=owner,
        fit=fit_of(owner),
        last_day=date(2026, 11, 22),
        weeks=8,
        parts=parts,
        measured_parts=measured,
        half_width=half_width,
    )
    for rank, (activity, worn, expected) in enumerate(rows, start=1):
        PlannedStrap.objects.create(
            owner=owner,
            plan=plan,
            sensor=worn,
            activity=activity_of(owner, activity),
            sessions_a_week=1.5,
            expected_half_width=expected,
            worn_half_width=worn_half_width,
            rank=rank,
        )
    return plan


def gain_of(owner, worn, **changes):
    fields = {
        "day": date(2026, 11, 3),
        "pairs": 1,
        "expected_from": 0.12,
        "expected_to": 0.101,
        "came_to": 0.107,
    }
    return StrapGain.objects.create(
        owner=owner, sensor=worn, activity=activity_of(owner, "lifting"), **(fields | changes)
    )


def page(client):
    response = client.get("/strap-plan")
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def test_where_no_pair_narrows_for_good_the_week_that_the_strap_is_worn_in_is_named(client, ana):
    plan_of(ana, ("lifting", sensor(ana, "Old wrist"), 0.092), worn_half_width=0.081)
    shown = page(client)
    assert "hardly narrow it for good" in shown
    assert "for lifting, that week would be known to <b>±8.1%</b>" in shown


def test_the_first_sentence_says_what_the_best_session_would_bring(client, ana):
    plan_of(ana, ("lifting", sensor(ana, "Old wrist"), 0.071))
    shown = page(client)
    assert "Your week’s load is known to <b>±9.2%</b>." in shown
    assert "One more session of lifting with the strap and Old wrist together" in shown
    assert "bring that to <b>±7.1%</b>" in shown


def test_sessions_stand_in_the_order_of_their_ranks_with_a_link_to_their_profile(client, ana):
    worn = sensor(ana)
    plan_of(ana, ("lifting", worn, 0.071), ("run", worn, 0.085))
    shown = page(client)
    links = [f"/sensors/{worn.pk}/activities/{activity_of(ana, slug).pk}" for slug in ("lifting", "run")]
    assert 0 < shown.index(links[0]) < shown.index(links[1])


def test_how_often_it_was_worn_without_a_strap_is_told_in_sessions(client, ana):
    plan_of(ana, ("lifting", sensor(ana), 0.071))
    assert "12 in 8 weeks" in page(client)


def test_margins_are_drawn_as_shares_of_the_margin_now(client, ana):
    plan_of(ana, ("lifting", sensor(ana), 0.069), worn_half_width=0.046)
    shown = page(client)
    assert 'class="worn" x="0" y="2" width="50.0%"' in shown
    assert 'class="after" x1="75.0%"' in shown


def test_a_pair_that_narrows_nothing_for_good_leaves_the_margin_as_now(client, ana):
    plan_of(ana, ("lifting", sensor(ana), 0.092), worn_half_width=0.046)
    assert "as now" in page(client)


def test_sessions_that_bring_nothing_to_speak_of_are_folded_away(client, ana):
    worn = sensor(ana)
    plan_of(ana, ("lifting", worn, 0.071), ("run", worn, 0.0918), ("ride", worn, 0.092))
    folded = page(client).partition("<details")[2]
    assert "2 more would hardly narrow it" in folded
    assert ">ride<" in folded
    assert ">lifting<" not in folded


def test_where_no_session_narrows_the_week_the_page_says_why(client, ana):
    plan_of(ana, ("lifting", sensor(ana), 0.092))
    shown = page(client)
    assert "hardly narrow it: what is left is mostly chance from session to session" in shown
    assert "None of 1 would narrow it" in shown


def test_days_drawn_by_chance_come_with_the_reason(client, ana):
    plan_of(ana, ("lifting", sensor(ana), 0.071))
    shown = page(client)
    for day in chance_days(ana.seed, ana.today()):
        assert f"{day:%A} {day.day} {day:%B}" in shown
    assert "Sessions picked because trouble is expected are unlike the others" in shown


def test_what_earlier_sessions_brought_stands_beside_what_was_expected(client, ana):
    worn = sensor(ana)
    plan_of(ana, ("lifting", worn, 0.071))
    gain_of(ana, worn)
    shown = page(client)
    after = shown.partition("What earlier strap sessions brought")[2]
    assert [after.index(figure) for figure in ("3 Nov 2026", "±12.0%", "±10.1%", "±10.7%")]
    assert "learned with" not in after


def test_pairs_that_were_learned_together_are_said_to_be(client, ana):
    gain_of(ana, sensor(ana), pairs=3)
    assert "learned with 2 more pairs" in page(client)


def test_a_log_without_a_fit_is_told_what_is_missing(client, ana):
    assert "Nothing is learned yet" in page(client)


def test_a_log_without_physiology_is_told_what_is_missing(client, ana):
    Physiology.objects.of(ana).delete()
    assert "that takes your resting and maximum heart rate" in page(client)


def test_a_fit_from_before_there_were_plans_asks_for_patience(client, ana):
    fit_of(ana)
    assert "The plan comes with the next learning" in page(client)


def test_a_log_that_was_measured_throughout_has_nothing_to_narrow(client, ana):
    plan_of(ana, parts=12, measured=12)
    shown = page(client)
    assert "Everything in the 8 weeks up to 22 November 2026 was measured by a strap" in shown
    assert "Days drawn by chance" not in shown


def test_a_log_without_wrist_sessions_has_nothing_to_narrow(client, ana):
    plan_of(ana, parts=12, measured=2)
    assert "was recorded by a wrist sensor alone" in page(client)


def test_a_plan_of_another_fit_than_the_shown_one_is_not_shown(client, ana):
    plan_of(ana, ("lifting", sensor(ana), 0.071))
    ana.current_source = "1/" + "e" * 48
    ana.save()
    assert "±7.1%" not in page(client)


def test_the_sensors_page_leads_to_the_plan(client, ana):
    assert 'href="/strap-plan"' in client.get("/sensors/").content.decode()


def test_the_page_takes_few_queries_whatever_it_shows(client, ana, django_assert_max_num_queries):
    worn, other = sensor(ana), sensor(ana, "other")
    plan_of(ana, *((slug, one, 0.08) for slug in ("lifting", "run", "ride") for one in (worn, other)))
    for day in range(1, 9):
        gain_of(ana, worn, day=date(2026, 11, day))
    with django_assert_max_num_queries(10):
        page(client)
