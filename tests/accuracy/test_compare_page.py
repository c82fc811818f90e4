"""Page that compares sensors, what it hands out, and its operation."""

import csv
import io

import altair as alt
import pytest

from accuracy import charts
from accuracy.charts import SessionDifference
from tests.accuracy.comparison_builders import worn
from tests.accuracy.pair_builders import athlete_with_physiology
from tests.builders import athlete
from trainlog.models import Athlete, Sensor

pytestmark = pytest.mark.django_db

ADDRESS = "/sensors/compare"


@pytest.fixture
def ana(client, settings, tmp_path):
    settings.DATA_FOLDER = tmp_path
    owner = athlete_with_physiology(athlete())
    client.force_login(owner.user)
    return owner


def shared(owner, days=range(3), **more):
    for day in days:
        worn(owner, day, left=-2 - day, right=-6 - 2 * day, **more)


@pytest.fixture(scope="module")
def worn_together(rows_of_the_module):
    """Key of an athlete who wore both on three days."""
    owner = athlete_with_physiology(athlete("eva"))
    shared(owner)
    return owner.pk


@pytest.fixture
def eva(client, worn_together):
    owner = Athlete.objects.get(pk=worn_together)
    client.force_login(owner.user)
    return owner


def page(client, query=""):
    answer = client.get(ADDRESS + query)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_an_empty_log_says_what_a_comparison_takes(client, ana):
    assert "A comparison takes two tested sensors" in page(client)


def test_all_tested_sensors_are_compared_without_being_asked(client, eva):
    content = page(client)

    assert "left and right, held against chest, on sessions that both recorded" in content
    assert "In 3 sessions of one person" in content
    assert "mean absolute error 3.0 against 8.0 bpm" in content


def test_each_figure_stands_with_both_sensors_and_the_difference_with_its_interval(client, eva):
    content = page(client)

    row = content[content.index("mean absolute error<") :]
    for cell in (">3.0<", ">8.0<", "<b>−5.0</b>", ">−7.5 to −2.5<"):
        assert cell in row


def test_two_sessions_are_shown_without_intervals_and_it_says_so(client, ana):
    shared(ana, range(2))
    content = page(client, "?sessions=same")

    assert "Fewer than 3 sessions give no interval" in content
    assert "Intervals take at least three sessions" in content


def test_matched_sessions_name_both_days_and_who_was_left_out(client, ana):
    for day in range(3):
        worn(ana, day, left=-2)
        worn(ana, day + 10, right=-6)
    worn(ana, 20, right=-6, activity="ride")
    content = page(client, "?sessions=matched")

    assert "weaker evidence" in content
    assert "1 session left out: no partner within the bounds" in content
    assert "within 10 points of heart-rate reserve" in content


def test_sensors_activities_and_days_can_be_chosen(client, eva):
    shared(eva, [6], activity="ride")
    left, right = Sensor.objects.of(eva).filter(site="wrist").order_by("name")
    content = page(client, f"?sensor={left.pk}&sensor={right.pk}&activity=ride&sessions=same")

    assert "In 1 session of one person" in content


def test_a_single_sensor_is_refused_in_words(client, eva):
    left = Sensor.objects.of(eva).get(name="left")
    answer = client.get(f"{ADDRESS}?sensor={left.pk}")

    assert answer.status_code == 422
    assert "Choose two sensors or more" in answer.content.decode()


@pytest.mark.parametrize("query", ["?sensor=x", "?sensor=999", "?sessions=all", "?first=2026-13-01"])
def test_what_cannot_be_is_refused_and_no_file_is_made_of_it(client, eva, query):
    assert client.get(ADDRESS + query).status_code == 422
    assert client.get(f"{ADDRESS}/sessions.csv{query}").status_code == 404


def test_days_in_the_wrong_order_are_refused(client, ana):
    answer = client.get(f"{ADDRESS}?first=2026-03-05&last=2026-03-01")

    assert answer.status_code == 422
    assert "must not be before" in answer.content.decode()


def test_another_athletes_sensors_cannot_be_chosen(client, ana):
    ben = athlete("ben")
    worn(ben, 0, left=-1, right=-2)
    keys = "&".join(f"sensor={row.pk}" for row in Sensor.objects.of(ben))

    assert client.get(f"{ADDRESS}?{keys}").status_code == 422


def test_the_csv_has_a_row_a_session_with_the_figures_of_both(client, eva):
    answer = client.get(f"{ADDRESS}/sessions.csv")
    table = list(csv.DictReader(io.StringIO(answer.content.decode())))

    assert [row["first_bias_bpm"] for row in table] == ["-2.0", "-3.0", "-4.0"]
    assert [row["second_bias_bpm"] for row in table] == ["-6.0", "-8.0", "-10.0"]
    assert {row["matching_distance"] for row in table} == {""}


def test_a_name_in_the_csv_is_no_formula(client, eva):
    Sensor.objects.of(eva).filter(name="left").update(name="=1+1")
    table = list(csv.DictReader(io.StringIO(client.get(f"{ADDRESS}/sessions.csv").content.decode())))

    assert "'=1+1" in {table[0]["first_sensor"], table[0]["second_sensor"]}


def test_the_json_has_units_intervals_and_every_session(client, eva):
    found = client.get(f"{ADDRESS}/figures.json").json()

    (two,) = found["compared"]
    assert two["whole"]["figures"]["mean_absolute_error"]["difference"] == pytest.approx(-5, abs=0.05)
    assert found["units"]["bias"] == "bpm"
    assert len(two["sessions"]) == 3
    assert two["adjusted_p"]["whole"] == pytest.approx(two["whole"]["figures"]["mean_absolute_error"]["p"])


def test_the_operation_answers_what_the_page_shows(client, eva):
    found = client.get("/api/sensor-comparison").json()

    assert found == client.get(f"{ADDRESS}/figures.json").json()


def test_the_operation_takes_names(client, eva):
    shared(eva, [6], activity="ride")
    answer = client.get(
        "/api/sensor-comparison?sensor=left&sensor=right&reference=chest&activity=ride&sessions=same"
    )

    assert answer.json()["compared"][0]["whole"]["sessions"] == 1


@pytest.mark.parametrize(
    "query",
    [
        "sensor=left",
        "sensor=left&sensor=nobody",
        "reference=left",
        "activity=row",
        "from=2026-03-05&to=2026-03-01",
    ],
)
def test_the_operation_says_what_it_cannot_use(client, eva, query):
    answer = client.get(f"/api/sensor-comparison?{query}")

    assert answer.status_code == 422
    assert answer.json()["detail"]


def test_the_sensors_page_leads_to_it_once_there_are_two(client, ana):
    worn(ana, 0, left=-2)
    assert "/sensors/compare" not in client.get("/sensors/").content.decode()

    worn(ana, 1, right=-2)
    assert "/sensors/compare" in client.get("/sensors/").content.decode()


MARKS = [SessionDifference("2 Mar, run", 2.0, 5.0), SessionDifference("3 Mar, run", 4.0, 3.0)]


def drawn(interval=(-4.0, 2.0)):
    return charts.paired_differences(MARKS, -1.0, interval, names=("left", "right"))


@pytest.mark.parametrize("interval", [(-4.0, 2.0), None])
def test_the_chart_is_a_valid_spec_with_styles_and_no_colour(interval):
    spec = drawn(interval)

    alt.LayerChart.from_dict(spec)
    for layer in spec["layer"]:
        assert layer["mark"]["style"]
        assert not {"color", "stroke", "fill"} & set(layer["mark"])
    assert {layer["data"]["name"] for layer in spec["layer"]} == set(spec["datasets"])


def test_the_chart_says_in_words_what_it_shows():
    said = drawn()["description"]

    assert "2 Mar, run −3.0; 3 Mar, run +1.0" in said
    assert "Mean −1.0, 95% interval −4.0 to +2.0" in said
    assert "no interval" in drawn(None)["description"]


def test_a_mark_lies_at_the_difference_of_both_errors():
    assert [row["difference"] for row in drawn()["datasets"]["sessions"]] == [-3.0, 1.0]
