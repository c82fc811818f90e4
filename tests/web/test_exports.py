import pytest

from tests.builders import athlete, part

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


@pytest.mark.parametrize("table", ["workouts", "check-ins", "sets"])
def test_every_table_is_offered_as_both_kinds(client, ana, table):
    shown = client.get("/account/take").content.decode()
    for kind, media_type in (
        ("csv", "text/csv; charset=utf-8"),
        ("parquet", "application/vnd.apache.parquet"),
    ):
        assert f'formaction="/export/{table}.{kind}"' in shown
        answer = client.get(f"/export/{table}.{kind}?first=&last=")
        assert (answer.status_code, answer["Content-Type"], answer.streaming) == (200, media_type, True)
        assert answer["Content-Disposition"] == f'attachment; filename="log_{table}.{kind}"'


def test_the_name_of_a_file_tells_its_days(client, ana):
    part(ana)
    answer = client.get("/export/workouts.csv?first=2026-03-01&last=2026-03-01")
    assert "log_workouts_from-2026-03-01_until-2026-03-01.csv" in answer["Content-Disposition"]
    assert answer.getvalue().count(b"\n") == 1


@pytest.mark.parametrize("days", ["first=soon", "first=2026-03-02&last=2026-03-01"])
def test_days_that_cannot_be_are_explained(client, ana, days):
    answer = client.get(f"/export/sets.parquet?{days}")
    assert answer.status_code == 422
    assert 'class="error"' in answer.content.decode()


def test_a_table_that_is_not_there_is_not_found(client, ana):
    assert client.get("/export/secrets.csv").status_code == 404
