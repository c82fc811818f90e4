"""Play many rounds and print what came of each fault: ``python -m tests.faults.rounds 200``.

Half of the rounds are played on SQLite and half on PostgreSQL, where there is a server to start.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import defaultdict
from pathlib import Path

from tests.faults.rounds.faults import FAULTS
from tests.faults.rounds.play import Outcome, play, undisturbed
from tests.faults.rounds.world import World


def rounds(
    folder: Path, count: int, *, postgres: bool, seed: int = 0, named: str = "", first: int = 0
) -> list[Outcome]:
    """Play rounds on one installation, every fault that it can have in turn, from the first asked for."""
    world = World(folder, postgres=postgres, logs=count + 1)
    users = [f"round-{number}" for number in range(count)]
    try:
        world.start()
        world.open_logs(["undisturbed", *users])
        expected = undisturbed(world, "undisturbed")
        faults = [fault for fault in FAULTS if fault.needs(world) and named in fault.name]
        for fault in FAULTS:
            if not fault.needs(world):
                print(f"This machine or database cannot have: {fault.name}.", flush=True)
        outcomes = []
        for number, user in enumerate(users):
            fault = faults[(first + number) % len(faults)]
            outcome = play(world, fault, user, expected, seed + number)
            ended = "; ".join(outcome.wrong) or "as undisturbed"
            print(f"{number + 1:4}  {fault.name:38} {outcome.seconds:6.1f} s  {ended}", flush=True)
            outcomes.append(outcome)
        return outcomes
    finally:
        world.end()


def table(outcomes: list[Outcome]) -> str:
    """Rounds and outcomes by fault."""
    by_fault = defaultdict(list)
    for outcome in outcomes:
        by_fault[outcome.fault].append(outcome)
    lines = [f"{'fault':38} rounds  as undisturbed  sent again  longest, s  looks"]
    for fault, played in by_fault.items():
        lines.append(
            f"{fault:38} {len(played):6}  {sum(not one.wrong for one in played):14}  "
            f"{sum(one.refusals for one in played):10}  {max(one.seconds for one in played):10.1f}  "
            f"{sum(one.looks for one in played):5}"
        )
    return "\n".join(lines)


def main() -> int:
    """Play as many rounds as asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("rounds", type=int, nargs="?", default=200)
    parser.add_argument("--only", choices=["sqlite", "postgres"])
    parser.add_argument("--fault", default="", help="only faults with these words in their name")
    parser.add_argument("--first", type=int, default=0, help="how many faults to leave out at first")
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    kinds = [asked.only] if asked.only else ["sqlite", "postgres"]
    outcomes: list[Outcome] = []
    for kind in kinds:
        print(f"On {kind}:")
        with tempfile.TemporaryDirectory(prefix="trainlog-faults-") as folder:
            count = -(-asked.rounds // len(kinds))
            place = Path(folder) / "world"
            chosen = {"seed": asked.seed, "named": asked.fault, "first": asked.first}
            outcomes += rounds(place, count, postgres=kind == "postgres", **chosen)
    print(table(outcomes))
    wrong = [one for one in outcomes if one.wrong]
    print(f"{len(outcomes) - len(wrong)} of {len(outcomes)} rounds ended as an undisturbed run.")
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
