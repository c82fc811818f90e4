"""The audit of dependencies fails on what is known, and takes silence for no answer."""

import json
import sys
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def audit():
    spec = spec_from_file_location("audit", PROJECT / ".ci/audit.py")
    module = module_from_spec(spec)
    sys.modules["audit"] = module
    spec.loader.exec_module(module)
    yield module
    del sys.modules["audit"]


def answer(*libraries):
    return json.dumps({"dependencies": list(libraries), "fixes": []})


CLEAN = {"name": "one", "version": "1.0", "vulns": []}
SKIPPED = {"name": "two", "skip_reason": "not found"}
BAD = {"name": "two", "version": "2.0", "vulns": [{"id": "ADVISORY-1", "fix_versions": ["2.1"]}]}


def test_a_known_vulnerability_fails_with_the_version_that_mends_it(audit):
    code, said = audit.verdict(audit.read([answer(CLEAN, BAD)]))
    assert code == 1
    assert "two 2.0: ADVISORY-1, mended in 2.1" in said


def test_one_that_only_the_second_service_knows_fails_too(audit):
    assert audit.verdict(audit.read([answer(CLEAN, SKIPPED), answer(CLEAN, BAD)]))[0] == 1


@pytest.mark.parametrize("answers", [["", ""], ["Traceback", "{}"], [answer(SKIPPED), "null"]])
def test_where_nobody_answers_it_goes_on_and_says_that_nothing_is_known(audit, answers):
    code, said = audit.verdict(audit.read(answers))
    assert code == 0
    assert said.startswith("NOT AUDITED")


def test_what_was_looked_up_by_nobody_is_named(audit):
    code, said = audit.verdict(audit.read([answer(CLEAN, SKIPPED)]))
    assert (code, said) == (0, "No known vulnerability in 1 libraries. NOT LOOKED UP: two.")


def test_what_every_library_of_is_known_is_said_to_be_clean(audit):
    assert audit.verdict(audit.read([answer(CLEAN)])) == (0, "No known vulnerability in 1 libraries.")


def test_the_whole_check_holds_the_audit():
    assert 'step "audit" make audit' in (PROJECT / ".ci/run").read_text()
