"""Counts of several processes, each a real one: the library chooses where to keep them as it is imported."""

import json
import os
import resource
import subprocess
import sys

import pytest

from trainlog.telling import slots

COUNT = """
import os, sys
import django
django.setup()
from trainlog.telling import slots, timings
slots.take_role(sys.argv[1])
for _ in range(int(sys.argv[2])):
    timings.count_request("week", "GET", 200, 0.01)
from prometheus_client import generate_latest
print(generate_latest(slots.registry(timings.OWN)).decode())
"""


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "metrics"


def run(folder, script, *arguments, **options):
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "trainlog.settings",
        "TRAINLOG_METRICS_FOLDER": str(folder),
        "TRAINLOG_SECRET_KEY": "only-for-tests",
    }
    return subprocess.run(
        [sys.executable, "-c", script, *arguments],
        env=environment,
        capture_output=True,
        text=True,
        check=True,
        **options,
    ).stdout


def test_counts_of_several_processes_are_added_up(folder):
    run(folder, COUNT, "web", "3")
    said = run(folder, COUNT, "read@here", "4")
    assert 'trainlog_requests_total{method="GET",route="week",status="2xx"} 7.0' in said
    assert 'trainlog_request_seconds_count{route="week"} 7.0' in said
    assert len(list(folder.glob("counter_*.db"))) == 2


def test_only_this_account_may_read_them(folder):
    run(folder, COUNT, "web", "1")
    assert folder.stat().st_mode & 0o777 == 0o700
    assert {path.stat().st_mode & 0o777 for path in folder.iterdir()} == {0o600}


def test_a_process_that_takes_anothers_place_goes_on_with_its_counts(folder):
    in_a_pool = "from billiard.process import current_process\ncurrent_process().index = 0\n" + COUNT
    run(folder, in_a_pool, "report@here", "2")
    said = run(folder, in_a_pool, "report@here", "3")
    assert 'trainlog_requests_total{method="GET",route="week",status="2xx"} 5.0' in said
    (path,) = folder.glob("counter_*.db")
    assert path.name.endswith("-report-place0.db")


def test_where_a_disk_has_no_space_for_counts_nothing_is_counted_and_all_goes_on(folder):
    def no_large_files():
        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))

    ignore = "import signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
    said = run(folder, ignore + COUNT, "web", "3", preexec_fn=no_large_files)
    assert "week" not in said
    assert list(folder.iterdir()) == []


def test_what_is_reserved_holds_every_page_and_operation(folder):
    """Beyond it a file would grow in the middle of a request, where a full disk ends the process."""
    everything = """
import json, django
django.setup()
from django.urls import get_resolver
from trainlog.telling import timings
def names(resolver, before=""):
    for pattern in resolver.url_patterns:
        if hasattr(pattern, "url_patterns"):
            space = f"{before}{pattern.namespace}:" if pattern.namespace else before
            yield from names(pattern, space)
        else:
            yield f"{before}{pattern.name}" if pattern.name else str(pattern.pattern)
routes = sorted(set(names(get_resolver())))
for route in routes:
    for method in ("GET", "POST", "DELETE"):
        for status in (200, 302, 404, 500):
            timings.count_request(route, method, status, 0.01)
print(json.dumps(len(routes)))
"""
    assert json.loads(run(folder, everything)) > 100
    assert {path.stat().st_size for path in folder.iterdir()} == {slots.RESERVED}


def test_a_process_alone_counts_for_itself():
    assert slots.FOLDER is None
    assert slots.may_count()
