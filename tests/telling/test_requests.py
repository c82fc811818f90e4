import pytest

from trainlog.celery import app
from trainlog.services.wake import wake
from trainlog.telling import requests, timings
from trainlog.telling.requests import HEADER, RequestMiddleware

pytestmark = pytest.mark.django_db


def access(lines):
    return [line for line in lines.json() if line["logger"] == "trainlog.access"]


def counted(route, method="GET", status="2xx"):
    return timings.OWN.get_sample_value(
        "trainlog_requests_total", {"route": route, "method": method, "status": status}
    )


def test_an_answer_has_the_id_of_its_request(client):
    assert client.get("/sign-in", headers={HEADER: "given-by-a-proxy"})[HEADER] == "given-by-a-proxy"
    assert len(client.get("/sign-in")[HEADER]) == 32


def test_an_id_that_is_none_is_not_answered(client):
    assert client.get("/sign-in", headers={HEADER: "<script>"})[HEADER] != "<script>"


def test_a_request_has_one_line_with_method_route_status_and_time(lines, client):
    client.get("/sign-in", headers={HEADER: "given-by-a-proxy"})
    (line,) = access(lines)
    assert line.pop("ms") >= 0
    line.pop("time")
    assert line.pop("message").startswith("GET sign_in 200 in ")
    assert line == {
        "level": "INFO",
        "logger": "trainlog.access",
        "request_id": "given-by-a-proxy",
        "method": "GET",
        "route": "sign_in",
        "status": 200,
    }


def test_neither_keys_nor_queries_nor_names_are_told(lines, client, ana):
    client.force_login(ana.user)
    client.get("/workouts/987654?words=secret")
    client.post("/sign-in", {"username": "ana", "password": "a long secret"})
    assert [line["route"] for line in access(lines)] == ["workout", "sign_in"]
    for told in ("987654", "secret", "ana"):
        assert told not in lines.text.getvalue()


def test_what_is_no_page_goes_by_what_it_is_and_not_by_its_name(lines, client):
    client.get("/nowhere/987654")
    client.get("/static/987654.css")
    assert [line["route"] for line in access(lines)] == ["(no page)", "(static file)"]


def test_an_operation_goes_by_its_name(lines, client):
    client.get("/api/workouts/987654")
    (line,) = access(lines)
    assert line["status"] == 401
    assert "987654" not in line["route"]
    assert ":" in line["route"]


def test_a_request_that_fails_is_told_with_500(lines, client, monkeypatch):
    client.raise_request_exception = False
    monkeypatch.setattr("trainlog.web.health.database_answers", lambda: 1 / 0)
    assert client.get("/ready").status_code == 500
    failed, told = lines.json()[-2:]
    assert failed["message"] == "Internal Server Error: ready"
    assert (told["route"], told["status"]) == ("ready", 500)
    assert failed["request_id"] == told["request_id"]


def test_requests_are_counted_by_route_method_and_kind_of_answer(client):
    before = counted("sign_in") or 0
    client.get("/sign-in")
    client.get("/sign-in?next=/week")
    assert counted("sign_in") == before + 2


def test_a_method_of_somebodys_own_is_counted_with_others(client):
    client.generic("SECRET", "/sign-in")
    assert counted("sign_in", "other", "4xx") == 1


def test_a_task_is_sent_with_the_id_of_the_request_that_wakes_it(rf):
    sent = []

    def note(headers=None, **_):
        sent.append(headers.get("request_id"))

    def answer(request):
        wake("trainlog.tasks.sweep")
        from django.http import HttpResponse

        return HttpResponse()

    from celery import signals

    signals.before_task_publish.connect(note)
    try:
        RequestMiddleware(answer)(rf.get("/sign-in", headers={HEADER: "given-by-a-proxy"}))
        wake("trainlog.tasks.sweep")
    finally:
        signals.before_task_publish.disconnect(note)
        with app.connection_for_write() as connection:
            connection.default_channel.queue_purge("sweep")
    assert sent == ["given-by-a-proxy", None]


def test_it_is_the_outermost_of_all(settings):
    assert settings.MIDDLEWARE[0] == f"{requests.__name__}.RequestMiddleware"
