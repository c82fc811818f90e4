"""The units for a machine without containers, against the code; systemd itself is asked where it is there."""

import configparser
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from trainlog.celery import app
from trainlog.serve import programs
from trainlog.services.answering import QUEUES

PROJECT = Path(__file__).resolve().parents[1]
FOLDER = PROJECT / "deploy/systemd"
PYTHON = "/opt/trainlog/.venv/bin/python"
PROGRAMS = {
    "web": programs.web("127.0.0.1:8000"),
    "reader": programs.reader(),
    "learner": programs.learner(),
    "reporter": programs.reporter(),
    "sweeper": programs.sweeper(),
    "scheduler": programs.scheduler(),
}


class Several(dict):
    """Keys of a unit may come several times; all of them are kept, one a line."""

    def __setitem__(self, key, value):
        if isinstance(value, list) and key in self and isinstance(self[key], list):
            value = self[key] + value
        super().__setitem__(key, value)


def read(path):
    parser = configparser.RawConfigParser(dict_type=Several, strict=False, interpolation=None)
    parser.optionxform = str
    parser.read(path)
    return parser


def unit(name):
    return read(FOLDER / f"trainlog-{name}.service")


COMMON = read(FOLDER / "trainlog-.service.d/common.conf")


def environment():
    lines = COMMON["Service"]["Environment"].split("\n")
    return dict(line.split("=", 1) for line in lines)


def command(line):
    """Words of a command, as the machine's own Python runs them."""
    return [sys.executable if word == PYTHON else word.replace("%%", "%") for word in shlex.split(line)]


def seconds(name):
    return int(unit(name)["Service"]["TimeoutStopSec"])


def test_every_part_has_a_unit_and_there_is_one_scheduler():
    names = {path.stem.removeprefix("trainlog-") for path in FOLDER.glob("*.service")}
    assert names == {*PROGRAMS, "prepare"}


@pytest.mark.parametrize("name", PROGRAMS)
def test_a_unit_runs_the_command_that_serve_runs(name):
    assert command(unit(name)["Service"]["ExecStart"]) == list(PROGRAMS[name].command)


def test_every_queue_that_tasks_are_sent_to_has_a_unit_of_its_own():
    commands = [command(unit(name)["Service"]["ExecStart"]) for name in PROGRAMS]
    listened = [words[words.index("--queues") + 1] for words in commands if "--queues" in words]
    assert sorted(listened) == list(QUEUES)


def test_tables_and_static_files_are_there_before_any_part_starts():
    lines = unit("prepare")["Service"]["ExecStart"].split("\n")
    assert [command(line)[1:3] for line in lines] == [
        ["manage.py", "migrate"],
        ["manage.py", "collectstatic"],
    ]
    for name in PROGRAMS:
        assert unit(name)["Unit"]["Requires"] == unit(name)["Unit"]["After"] == "trainlog-prepare.service"


def test_every_part_comes_back_after_it_died_and_stops_with_the_target():
    assert COMMON["Unit"]["PartOf"] == "trainlog.target"
    for name in PROGRAMS:
        assert unit(name)["Service"]["Restart"] == "always"
        assert unit(name)["Install"]["WantedBy"] == "trainlog.target"


def test_a_stop_asks_the_first_process_alone_and_leaves_time_for_what_has_begun():
    """A worker whose processes are all asked at once would break its tasks off."""
    assert COMMON["Service"]["KillMode"] == "mixed"
    assert seconds("web") > programs.REQUEST_PATIENCE
    for name in ("reader", "learner"):
        assert seconds(name) > app.conf.task_time_limit


def test_variables_are_settings_or_those_that_serve_sets():
    settings = (PROJECT / "trainlog/settings.py").read_text()
    example = (FOLDER / "trainlog.env.example").read_text()
    named = {*environment(), *re.findall(r"^(\w+)=", example, re.MULTILINE)}
    set_by_serve = set(programs.environment({}, PROJECT, Path("/data")))
    assert {name for name in named if f'"{name}"' not in settings} <= set_by_serve
    assert set_by_serve - {"PYTHONWARNINGS"} <= set(environment())


def test_the_example_holds_no_secret():
    example = (FOLDER / "trainlog.env.example").read_text()
    assert "TRAINLOG_SECRET_KEY=FIFTY-RANDOM-CHARACTERS" in example
    assert ":PASSWORD@" in example


def test_only_the_data_and_the_counts_can_be_written_to_and_by_nobody_else():
    service = COMMON["Service"]
    assert service["ProtectSystem"] == "strict"
    assert f"/var/lib/{service['StateDirectory']}" == environment()["TRAINLOG_DATA_FOLDER"]
    assert service["ReadWritePaths"].removeprefix("-") == environment()["TRAINLOG_METRICS_FOLDER"]
    made = unit("prepare")["Service"]["RuntimeDirectory"].split()
    assert environment()["TRAINLOG_METRICS_FOLDER"].removeprefix("/run/") in made
    assert service["NoNewPrivileges"] == "yes"
    assert service["CapabilityBoundingSet"] == ""


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="there is no systemd-analyze here")
def test_systemd_finds_nothing_wrong(tmp_path):
    shutil.copytree(FOLDER, tmp_path, dirs_exist_ok=True)
    for path in tmp_path.glob("*.service"):
        path.write_text(path.read_text().replace(PYTHON, sys.executable))
    units = [str(path) for path in tmp_path.iterdir() if path.suffix in {".service", ".target"}]
    said = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", *units],
        env={"SYSTEMD_UNIT_PATH": f"{tmp_path}:", "PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
        check=False,
    )
    about_ours = [line for line in said.stderr.splitlines() if "trainlog" in line]
    assert (said.returncode, about_ours) == (0, [])
