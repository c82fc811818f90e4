import logging
from datetime import datetime

import pytest

from trainlog.telling import context
from trainlog.telling.log_lines import TOLD, logging_settings


def test_a_json_line_has_time_level_logger_and_message(lines):
    logging.getLogger("trainlog.some").warning("%d of %s", 3, "them")
    (line,) = lines.json()
    assert datetime.fromisoformat(line.pop("time")).tzinfo is not None
    assert line == {"level": "WARNING", "logger": "trainlog.some", "message": "3 of them"}


def test_a_line_within_a_request_and_a_task_has_both_ids(lines):
    tokens = context.request_id.set("request-1"), context.task_id.set("task-1")
    try:
        logging.getLogger("trainlog").info("x")
    finally:
        context.request_id.reset(tokens[0])
        context.task_id.reset(tokens[1])
    logging.getLogger("trainlog").info("y")
    within, without = lines.json()
    assert (within["request_id"], within["task_id"]) == ("request-1", "task-1")
    assert not {"request_id", "task_id"} & without.keys()


@pytest.mark.parametrize("lines", ["plain"], indirect=True)
def test_a_plain_line_has_them_in_brackets_and_nothing_where_there_are_none(lines):
    token = context.request_id.set("request-1")
    try:
        logging.getLogger("trainlog").info("x")
    finally:
        context.request_id.reset(token)
    logging.getLogger("trainlog").info("y")
    within, without = lines.plain()
    assert within.endswith(" INFO trainlog [request request-1]: x")
    assert without.endswith(" INFO trainlog: y")


def test_what_libraries_hang_on_a_line_is_left_out(lines):
    logging.getLogger("library").warning("x", extra={"body": "what somebody wrote", "status": 400})
    (line,) = lines.json()
    assert set(line) <= set(TOLD)
    assert line["status"] == 400
    assert "somebody" not in lines.text.getvalue()


def test_an_exception_is_one_line_too(lines):
    try:
        raise RuntimeError
    except RuntimeError:
        logging.getLogger("trainlog").exception("It broke")
    (line,) = lines.json()
    assert line["exc_info"].startswith("Traceback")


def test_where_an_exception_was_put_in_other_words_those_are_told(lines):
    record = logging.LogRecord("trainlog", logging.ERROR, "", 0, "It broke", (), None)
    record.exc_text = "Traceback, without its message"
    logging.getLogger("trainlog").handle(record)
    (line,) = lines.json()
    assert line["exc_info"] == "Traceback, without its message"


@pytest.mark.parametrize("lines", ["plain", "json"], indirect=True)
@pytest.mark.django_db
def test_a_page_that_is_not_there_is_told_without_its_address(lines, client, ana):
    client.force_login(ana.user)
    assert client.get("/workouts/987654?words=secret").status_code == 404
    assert client.get("/nowhere/987654").status_code == 404
    assert "Not Found: workout" in lines.text.getvalue()
    assert "987654" not in lines.text.getvalue()
    assert "secret" not in lines.text.getvalue()


def test_the_web_servers_own_lines_give_no_address_either(lines):
    logging.getLogger("gunicorn.error").error("Error handling request %s %s", "GET", "/workouts/987654?x=y")
    (line,) = lines.json()
    assert line["message"] == "Error handling request"


def test_a_form_that_is_none_is_refused():
    with pytest.raises(ValueError, match="plain or json"):
        logging_settings("xml", "INFO")


def test_statements_to_the_database_are_never_told(lines):
    assert not logging.getLogger("django.db.backends").isEnabledFor(logging.DEBUG)
