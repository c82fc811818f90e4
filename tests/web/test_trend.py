from datetime import UTC, datetime, time, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.builders import athlete, estimate, intensity, part
from trainlog.load.draws import standard_normals
from trainlog.models import Physiology, UnknownDay
from trainlog.services.lines import monday_of
from trainlog.services.trend_store import keep_trend

pytestmark = pytest.mark.django_db

QUERIES, FEW_QUERIES = 20, 20


@pytest.fixture
def ana(client):
    owner = athlete()
    owner.current_source = "fit"
    owner.save()
    client.force_login(owner.user)
    Physiology.objects.create(owner=owner, from_day=owner.today(), resting_rate=50, maximum_rate=190)
    return owner


def page(client, address="/trend", status=200):
    response = client.get(address)
    assert response.status_code == status
    return response.content.decode()


def trained(owner, *days_ago, load=100.0, measure="trimp"):
    for ago in days_ago:
        day = owner.today() - timedelta(days=ago)
        made = part(owner, day_start(day))
        estimate(made, load * np.exp(0.1 * standard_normals(f"{ago}")), measure=measure)
    keep_trend(owner, "fit")


def day_start(day):
    return datetime.combine(day, time(0, 1), tzinfo=UTC)


def test_the_trend_shows_both_charts_with_their_measure_and_unit(client, ana):
    trained(ana, 0, 3, 10, 40)
    shown = page(client)
    assert "training impulse (Banister), arbitrary units" in shown
    assert 'id="loads-spec"' in shown
    assert 'id="responses-spec"' in shown
    assert "acute load, 7 days" in shown


def test_a_short_span_has_a_bar_for_each_day_and_a_long_one_for_each_week(client, ana):
    trained(ana, *range(0, 300, 2))
    assert "load of a day" in page(client)
    assert "load of a week, a day" in page(client, "/trend?span=1-year")


def test_the_weeks_stand_below_the_latest_first_with_links(client, ana):
    trained(ana, 0, 7, 14)
    monday = monday_of(ana.today())
    shown = page(client).split("trend-weeks")[1]
    places = [shown.index(f"/week/{monday - timedelta(days=7 * weeks)}") for weeks in range(3)]
    assert places == sorted(places)


def test_many_weeks_are_shown_on_pages(client, ana):
    trained(ana, *range(0, 400, 7))
    shown = page(client, "/trend?span=all")
    assert shown.count("/week/") == 26
    assert "span=all&amp;page=1#weeks-of-it" in shown
    later = page(client, "/trend?span=all&page=1")
    assert "Later weeks" in later


def test_the_sum_of_the_span_is_compared_with_as_many_days_before(client, ana):
    trained(ana, *range(0, 250, 3))
    shown = page(client, "/trend?span=6-weeks")
    assert "% likely" in shown.split('class="verdict"')[1] or "as likely" in shown
    assert "as many days" in shown


def test_a_span_is_chosen_by_days_too(client, ana):
    trained(ana, 0, 40, 50)
    first, last = ana.today() - timedelta(days=55), ana.today() - timedelta(days=45)
    shown = page(client, f"/trend?from={first}&to={last}")
    assert shown.count("trend-weeks") == 1
    assert f'value="{first}"' in shown
    assert "of 11 days" in shown


@pytest.mark.parametrize(
    ("query", "what"),
    [
        ("from=2026-03-09&to=2026-03-02", "must not be before the first"),
        ("from=someday&to=2026-03-02", "Enter a valid date"),
        ("from=2026-03-09", "This field is required"),
        ("from=0001-01-01&to=2026-03-02", "Choose a day from 1970"),
        ("from=2026-01-01&to=9999-12-31", "Choose a day from 1970"),
    ],
)
def test_days_that_make_no_span_are_explained(client, ana, query, what):
    assert what in page(client, f"/trend?{query}", 422)


@pytest.mark.parametrize("query", ["span=eternity", "page=-1", "page=x", "page=99999999"])
def test_an_address_that_means_nothing_is_not_found(client, ana, query):
    assert client.get(f"/trend?{query}").status_code == 404


def test_the_widest_span_that_can_be_asked_for_is_shown(client, ana):
    trained(ana, 3)
    page(client, "/trend?from=1970-01-01&to=2999-12-31")


def test_an_empty_log_says_what_to_do(client, ana):
    for span in ("3-months", "all"):
        shown = page(client, f"/trend?span={span}")
        assert "Nothing is logged in this span." in shown
        assert "Add files" in shown


def test_without_physiology_the_page_asks_for_it(client, ana):
    Physiology.objects.of(ana).delete()
    part(ana, day_start(ana.today()))
    assert "No load can be told without your resting and maximum heart rate" in page(client)


def test_loads_that_are_being_estimated_are_counted(client, ana):
    part(ana, day_start(ana.today()))
    assert "1 load is still being estimated" in page(client)


def test_estimates_whose_trend_is_not_kept_yet_are_explained(client, ana):
    estimate(part(ana, day_start(ana.today())), 100.0)
    assert "The trend is being worked out." in page(client)


def test_one_workout_alone_has_a_trend_and_the_page_says_how_young_it_is(client, ana):
    trained(ana, 2)
    shown = page(client)
    assert "The log is young" in shown
    assert "another 26 days" in shown


def test_a_log_whose_last_workout_was_months_ago_still_fades(client, ana):
    trained(ana, 120, 130)
    shown = page(client)
    assert 'id="loads-spec"' in shown
    assert "rest</td>" in shown


def test_days_marked_unknown_are_said(client, ana):
    trained(ana, 0, 5, 12)
    UnknownDay.objects.create(owner=ana, day=ana.today() - timedelta(days=3))
    keep_trend(ana, "fit")
    shown = page(client)
    assert "1 day of this span is marked as not known" in shown
    assert "1 day drawn" in shown


def test_the_page_says_what_the_figures_are_not(client, ana):
    trained(ana, 0)
    shown = page(client)
    assert "move together by construction" in shown
    assert "predict an injury" in shown
    assert "no measurement of you" in shown
    assert "chest pain" in shown


def test_time_by_intensity_is_shown_where_it_is_known(client, ana):
    trained(ana, 0)
    assert "Time by intensity" not in page(client)
    made = part(ana, day_start(ana.today() - timedelta(days=1)))
    estimate(made, 10.0)
    intensity(made, bands=[12] * 5, source="fit")
    for address in ("/trend", f"/week/{ana.today() - timedelta(days=1)}"):
        shown = page(client, address)
        assert "Time by intensity" in shown
        assert "near-maximal</th>" in shown


def test_another_measure_is_named_wherever_load_stands(client, ana):
    trained(ana, 0, load=300.0, measure="session_rpe")
    ana.measure = "session_rpe"
    ana.save()
    for address in ("/trend", "/week", "/"):
        assert "session-RPE (Foster), arbitrary units" in page(client, address)


def test_the_days_of_the_averages_are_kept(client, ana):
    chosen = {"acute_days": 5, "chronic_days": 20, "slow_days": 40, "fast_days": 10}
    assert client.post("/trend/spans", chosen).status_code == 302
    ana.refresh_from_db()
    assert {name: getattr(ana, name) for name in chosen} == chosen


def test_days_that_make_no_sense_are_refused_beside_their_field(client, ana):
    chosen = {"acute_days": 30, "chronic_days": 20, "slow_days": 40, "fast_days": 10}
    response = client.post("/trend/spans", chosen)
    assert response.status_code == 422
    assert "Acute load needs fewer days than chronic load." in response.content.decode()
    ana.refresh_from_db()
    assert ana.acute_days == 7


def test_the_usual_days_come_back_with_one_button(client, ana):
    client.post("/trend/spans", {"acute_days": 5, "chronic_days": 20, "slow_days": 40, "fast_days": 10})
    client.post("/trend/spans", {"usual": "1"})
    ana.refresh_from_db()
    assert (ana.acute_days, ana.chronic_days, ana.slow_days, ana.fast_days) == (7, 28, 45, 15)


def test_the_measure_is_chosen_on_its_page(client, ana):
    shown = page(client, "/account/measure")
    for words in ("Needs the maximum", "Needs both thresholds", "Needs ratings"):
        assert words in shown
    client.post("/account/measure", {"measure": "zones"})
    ana.refresh_from_db()
    assert ana.measure == "zones"


def test_a_measure_that_there_is_not_is_refused(client, ana):
    response = client.post("/account/measure", {"measure": "steps"})
    assert response.status_code == 422
    assert "steps is not one of the available choices" in response.content.decode()


def test_the_trend_shows_nothing_of_others(client, ana):
    bo = athlete("bo")
    bo.current_source = "fit"
    bo.save()
    trained(bo, 0, 7)
    assert "Nothing is logged in this span." in page(client)


@pytest.mark.parametrize(("address", "most"), [("/trend", QUERIES), ("/trend?span=all", FEW_QUERIES)])
def test_the_number_of_queries_does_not_grow_with_the_history(client, ana, address, most):
    # How many there are hangs a little on the day of the week that today is.
    trained(ana, *range(0, 200, 4))
    few = queries_of(client, address)
    trained(ana, *range(200, 500, 4))
    assert queries_of(client, address) <= few <= most


def queries_of(client, address):
    with CaptureQueriesContext(connection) as captured:
        page(client, address)
    return len(captured)


def test_the_averages_of_the_last_day_stand_weighted_and_plain(client, ana):
    trained(ana, *range(0, 40, 2))
    shown = page(client)
    assert "Plain mean of 7 days" in shown
    assert "Acute over chronic" in shown
    assert "not so many days yet" not in shown


def test_a_young_log_has_no_plain_mean_of_many_days(client, ana):
    trained(ana, 0)
    assert "not so many days yet" in page(client)


def test_what_is_drawn_stands_in_a_table_too(client, ana):
    trained(ana, 0, 3)
    shown = page(client)
    assert shown.count('aria-details="drawn-figures"') == 2
    rows = shown.partition('id="drawn-figures"')[2].partition("</table>")[0]
    assert rows.count("<tr>") == 1 + 4  # the head, and the days since the first
    assert f'<th scope="row">{ana.today():%-d %b %Y}</th>' in rows
