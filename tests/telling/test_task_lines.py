import logging

import pytest
from celery import signals

from trainlog.celery import app
from trainlog.telling import context, timings


@pytest.fixture
def run():
    """Run a function as a worker runs a task; gives the ids that it saw."""
    names = []

    def run(function, *args, **headers):
        seen = []

        def task():
            seen.append((context.task_id.get(), context.request_id.get()))
            function(*args)

        name = f"tests.{function.__name__}"
        names.append(name)
        made = app.task(name=name)(task)
        made.apply(task_id="task-1", headers=headers)
        return seen

    yield run
    for name in names:
        app.tasks.pop(name, None)


def broken():
    raise ValueError("what somebody wrote")


def fine():
    logging.getLogger("trainlog.some").info("within")


def done(lines):
    return [line for line in lines.json() if line["logger"] == "trainlog.tasks"]


def test_a_task_has_one_line_with_name_outcome_and_time(lines, run):
    run(fine)
    (line,) = done(lines)
    assert (line["task"], line["outcome"], line["task_id"]) == ("tests.fine", "done", "task-1")
    assert line["ms"] >= 0


def test_a_task_that_failed_says_so_and_not_by_what(lines, run):
    run(broken)
    (line,) = done(lines)
    assert line["outcome"] == "failure"
    assert "somebody" not in str(line)


def test_lines_within_a_task_have_its_id_and_that_of_the_request_that_woke_it(lines, run):
    assert run(fine, request_id="given-by-a-proxy") == [("task-1", "given-by-a-proxy")]
    within = next(line for line in lines.json() if line["message"] == "within")
    assert (within["task_id"], within["request_id"]) == ("task-1", "given-by-a-proxy")


def test_after_a_task_its_ids_are_gone(run):
    run(fine, request_id="given-by-a-proxy")
    assert (context.task_id.get(), context.request_id.get()) == ("", "")


def test_tasks_are_counted_by_name_and_outcome(run):
    run(broken)
    labels = {"task": "tests.broken", "outcome": "failure"}
    assert timings.OWN.get_sample_value("trainlog_tasks_total", labels) >= 1


def test_celery_leaves_the_log_as_the_settings_have_it():
    assert signals.setup_logging.receivers
