#!/usr/bin/env python
"""Whether a library that is installed with the log has a known vulnerability.

Ends with 1 if one has. Ends with 0 and says so plainly if nobody could be asked: "none found" and "not looked
up" are two different things, and a machine without a way out must still be able to check the rest.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

LOCK = Path(__file__).resolve().parents[1] / "requirements.lock"
SERVICES: tuple[list[str], ...] = ([], ["--vulnerability-service", "osv"])
"""The auditor's own choice of advisories; others, for what that does not know."""

SECONDS = 300


@dataclass
class Findings:
    """What is known of the libraries.

    Attributes
    ----------
    vulnerable : list of str
        Library, version, advisory and the versions that mend it.
    looked_up : set of str
        Libraries of which somebody knew whether there are advisories.
    not_looked_up : set of str
        The others.
    """

    vulnerable: list[str] = field(default_factory=list)
    looked_up: set[str] = field(default_factory=set)
    not_looked_up: set[str] = field(default_factory=set)


def read(answers: list[str]) -> Findings:
    """Findings of the auditor's answers, each JSON or nothing where a service could not be reached."""
    found, named = Findings(), set()
    for answer in answers:
        try:
            libraries = json.loads(answer)["dependencies"]
        except (ValueError, KeyError, TypeError):
            continue
        for library in libraries:
            named.add(library["name"])
            if "skip_reason" in library:
                continue
            found.looked_up.add(library["name"])
            for advisory in library["vulns"]:
                mended = ", ".join(advisory.get("fix_versions", [])) or "no version yet"
                line = f"{library['name']} {library['version']}: {advisory['id']}, mended in {mended}"
                if line not in found.vulnerable:
                    found.vulnerable.append(line)
    found.not_looked_up = named - found.looked_up
    return found


def verdict(found: Findings) -> tuple[int, str]:
    """Exit code, and what to say."""
    if found.vulnerable:
        return 1, "\n".join(["Known vulnerabilities:", *found.vulnerable])
    if not found.looked_up:
        return 0, (
            "NOT AUDITED: no advisory service could be reached from here, so nothing is known of any "
            "library. Run `make audit` where there is a way out."
        )
    said = f"No known vulnerability in {len(found.looked_up)} libraries."
    if found.not_looked_up:
        said += f" NOT LOOKED UP: {', '.join(sorted(found.not_looked_up))}."
    return 0, said


def ask(service: list[str]) -> str:
    """Answer of one service about what `requirements.lock` names, or nothing."""
    command = [sys.executable, "-m", "pip_audit", "--requirement", str(LOCK), *service]
    command += ["--require-hashes", "--disable-pip", "--format", "json", "--progress-spinner", "off"]
    try:
        ran = subprocess.run(
            [*command, "--timeout", "10"], capture_output=True, text=True, timeout=SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        return ""
    return ran.stdout


def main() -> int:
    """Ask, say, and tell by the exit code."""
    answers = []
    for service in SERVICES:
        answers.append(ask(service))
        found = read(answers)
        if found.looked_up and not found.not_looked_up:
            break
    code, said = verdict(read(answers))
    print(said)
    return code


if __name__ == "__main__":
    sys.exit(main())
