"""The container files against the code; no container engine is needed."""

import importlib.util
import re
import shlex
import sys
from pathlib import Path
from urllib.parse import urlsplit

import pytest
import yaml
from django.core.management import get_commands
from django.urls import resolve, reverse

from trainlog.celery import app
from trainlog.serve import ask_health, programs
from trainlog.services.answering import QUEUES
from trainlog.web import health

PROJECT = Path(__file__).resolve().parents[1]
COMPOSE = yaml.safe_load((PROJECT / "docker-compose.yml").read_text())
SERVICES = COMPOSE["services"]
OURS = {name: service for name, service in SERVICES.items() if "build" in service}
DOCKERFILE = (PROJECT / "Dockerfile").read_text()


@pytest.mark.parametrize(
    ("service", "program"),
    [
        ("web", programs.web("0.0.0.0:8000")),
        ("reader", programs.reader()),
        ("learner", programs.learner()),
        ("reporter", programs.reporter()),
        ("sweeper", programs.sweeper()),
        ("scheduler", programs.scheduler()),
    ],
)
def test_each_part_runs_the_command_that_serve_runs(service, program):
    expected = ["python" if word == sys.executable else word for word in program.command]
    assert shlex.split(SERVICES[service]["command"]) == expected


def queues_of(commands):
    """Queues that commands listen on, as often as they do."""
    return sorted(
        queue
        for command in commands
        if "--queues" in command
        for queue in command[command.index("--queues") + 1].split(",")
    )


def test_every_queue_that_tasks_are_sent_to_has_workers_of_its_own():
    commands = [shlex.split(service["command"]) for service in OURS.values()]
    assert queues_of(commands) == list(QUEUES)


def test_on_one_machine_every_queue_has_a_worker_and_reports_hold_up_nothing():
    workers = [programs.worker(), programs.reporter(), programs.sweeper()]
    assert queues_of(worker.command for worker in workers) == list(QUEUES)
    assert queues_of([programs.reporter().command]) == ["reports"]


def test_workers_can_be_many_and_the_scheduler_is_one():
    many = {name for name, service in OURS.items() if "deploy" in service}
    assert many == {"reader", "learner", "reporter"}
    for name in many:
        assert "container_name" not in SERVICES[name]
        assert "ports" not in SERVICES[name]
    beats = [name for name, service in OURS.items() if " beat " in service["command"]]
    assert beats == ["scheduler"]


def test_a_stop_leaves_time_for_what_has_begun():
    def seconds(name):
        return int(SERVICES[name]["stop_grace_period"].removesuffix("s"))

    assert seconds("web") > programs.REQUEST_PATIENCE
    for name in ("reader", "learner"):
        assert seconds(name) > app.conf.task_time_limit


def test_every_task_that_is_scheduled_or_routed_exists():
    app.loader.import_default_modules()
    wanted = {entry["task"] for entry in app.conf.beat_schedule.values()} | set(app.conf.task_routes)
    assert wanted <= set(app.tasks)


def test_the_tables_are_made_by_commands_that_exist_before_any_part_starts():
    named = re.findall(r"manage\.py (\w+)", SERVICES["prepare"]["command"])
    assert named == ["migrate", "collectstatic"]
    assert set(named) <= set(get_commands())
    for name in OURS.keys() - {"prepare"}:
        assert SERVICES[name]["depends_on"]["prepare"] == {"condition": "service_completed_successfully"}


def test_every_variable_is_a_setting():
    settings = (PROJECT / "trainlog/settings.py").read_text()
    named = {name for service in OURS.values() for name in service["environment"]}
    named |= set(re.findall(r"TRAINLOG_\w+", (PROJECT / "docker-compose.yml").read_text() + DOCKERFILE))
    assert {name for name in named if f'"{name}"' not in settings} == set()


def test_secrets_have_no_default():
    for name in ("TRAINLOG_SECRET_KEY", "TRAINLOG_DATABASE_URL"):
        assert ":?" in OURS["web"]["environment"][name]


def test_addresses_name_services_that_are_there():
    environment = OURS["web"]["environment"]
    named = {
        urlsplit(environment["TRAINLOG_BROKER_URL"]).hostname,
        environment["TRAINLOG_DATABASE_URL"].rpartition("@")[2].partition(":")[0],
    }
    assert named == {"queue", "database"}
    assert named <= set(SERVICES)


def test_only_the_web_is_published_and_only_on_this_machine():
    published = {name: service["ports"] for name, service in SERVICES.items() if "ports" in service}
    assert published == {"web": ["127.0.0.1:8000:8000"]}


def test_every_lasting_part_has_a_health_check_of_a_module_that_exists():
    for name in SERVICES.keys() - {"prepare"}:
        check = SERVICES[name]["healthcheck"]["test"]
        check = shlex.split(check[1]) if check[0] == "CMD-SHELL" else check[1:]
        if name in OURS:
            assert check[:2] == ["python", "-m"]
            assert importlib.util.find_spec(check[2])


def test_a_worker_is_asked_under_the_name_it_goes_by():
    for name in ("reader", "learner", "reporter", "sweeper"):
        command = shlex.split(SERVICES[name]["command"])
        own_name = command[command.index("--hostname") + 1].removesuffix("%h")
        assert SERVICES[name]["healthcheck"]["test"][1].endswith(f"--destination {own_name}$$HOSTNAME")


def test_the_health_page_that_is_asked_for_is_there():
    web = SERVICES["web"]["healthcheck"]["test"][-1]
    *_, scheduler, part = SERVICES["scheduler"]["healthcheck"]["test"]
    assert {urlsplit(address).path for address in (ask_health.HERE, scheduler)} == {reverse("health")}
    assert urlsplit(web).path == reverse("ready")
    assert resolve(reverse("health")).func == health.health
    assert urlsplit(scheduler).hostname in SERVICES
    assert part == "sweep"


def test_the_image_runs_as_an_ordinary_account_that_may_write_nowhere_but_in_its_data():
    account = re.findall(r"^USER (\S+)$", DOCKERFILE, re.MULTILINE)
    assert account == ["trainlog"]
    for service in OURS.values():
        assert service["read_only"]
        assert service["cap_drop"] == ["ALL"]
        environment = service["environment"]
        assert service["volumes"] == [
            f"data:{environment['TRAINLOG_DATA_FOLDER']}",
            f"metrics:{environment['TRAINLOG_METRICS_FOLDER']}",
        ]


def test_counts_lie_in_memory_that_the_account_of_the_image_may_write_to():
    account = re.search(r"useradd --uid (\d+)", DOCKERFILE)
    assert account is not None
    options = COMPOSE["volumes"]["metrics"]["driver_opts"]
    assert options["type"] == "tmpfs"
    assert f"uid={account[1]}" in options["o"]


def test_the_image_is_made_from_files_that_are_there_and_not_ignored():
    copied = {line.split()[1] for line in DOCKERFILE.splitlines() if line.startswith("COPY")}
    let_through = {
        line[1:] for line in (PROJECT / ".dockerignore").read_text().splitlines() if line.startswith("!")
    }
    assert copied == let_through
    assert all((PROJECT / name).exists() for name in copied)


def test_the_image_has_a_python_that_the_project_supports():
    version = re.search(r"^FROM python:3\.(\d+)", DOCKERFILE, re.MULTILINE)
    assert version is not None
    assert 11 <= int(version[1]) <= 13
