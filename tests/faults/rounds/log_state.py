"""What a log holds, read straight from the database: the same for alike logs, whatever happened to them."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from pathlib import Path
from typing import Any

import psycopg

OWNER = (
    "SELECT athlete.id, athlete.current_source, athlete.log_revision FROM trainlog_athlete athlete "
    "JOIN auth_user ON auth_user.id = athlete.user_id WHERE username = %s"
)
LEARNED = "SELECT learned_revision FROM accuracy_learningstate WHERE owner_id = %s AND claimed_until IS NULL"
FILES = "SELECT sha256, state, problem FROM trainlog_recording WHERE owner_id = %s"
GIVEN = {
    "recordings": 'SELECT sha256, state, format, start, "end", trace_blob, sensor.key '
    "FROM trainlog_recording recording LEFT JOIN trainlog_sensor sensor ON sensor.id = sensor_id "
    "WHERE recording.owner_id = %s AND state = 'read'",
    "workouts": 'SELECT start, "end", day FROM trainlog_workout WHERE owner_id = %s',
    "parts": 'SELECT start, "end", slug FROM trainlog_part part '
    "JOIN trainlog_activity activity ON activity.id = activity_id WHERE part.owner_id = %s",
}
LEARNT = {
    "pairs": "SELECT part.start, usable, shift, common_seconds, reference_trace, tested_trace "
    "FROM accuracy_pair pair JOIN trainlog_part part ON part.id = part_id WHERE pair.owner_id = %s",
    "loads": "SELECT part.start, estimate.measure, basis, reason, raw, low, median, high, all_draws, "
    "sensor_draws, source FROM trainlog_loadestimate estimate JOIN trainlog_part part ON part.id = part_id "
    "JOIN trainlog_athlete athlete ON athlete.id = estimate.owner_id "
    "AND athlete.current_source = estimate.source WHERE estimate.owner_id = %s",
    "profiles": "SELECT slug, pair_count, ratio, ratio_low, ratio_high, advice "
    "FROM accuracy_errorprofile profile JOIN trainlog_activity activity ON activity.id = activity_id "
    "WHERE profile.owner_id = %s",
    "trend": "SELECT week.measure, monday, figures FROM trainlog_trendweek week "
    "JOIN trainlog_athlete athlete ON athlete.id = week.owner_id AND athlete.current_source = week.source "
    "WHERE week.owner_id = %s",
}


class LogState:
    """Asks one database; each call sees one moment."""

    def __init__(self, database: Path | str) -> None:
        self.database = database

    def _ask(self, questions: Iterable[tuple[str, Any]]) -> list[list[tuple[Any, ...]]]:
        if isinstance(self.database, Path):
            address = f"file:{self.database}?mode=ro"
            with closing(sqlite3.connect(address, uri=True, timeout=10)) as connection:
                connection.execute("BEGIN")
                return [
                    connection.execute(question.replace("%s", "?"), (value,)).fetchall()
                    for question, value in questions
                ]
        with psycopg.connect(self.database) as connection:
            connection.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            return [connection.execute(question, (value,)).fetchall() for question, value in questions]

    def _owner(self, user: str) -> tuple[int, str, int]:
        [[owner]] = self._ask([(OWNER, user)])
        return owner

    def key_of(self, user: str) -> int:
        """Key of a user's log."""
        return self._owner(user)[0]

    def files(self, user: str) -> dict[str, tuple[str, str]]:
        """State and problem of each file by its hash."""
        key = self._owner(user)[0]
        [rows] = self._ask([(FILES, key)])
        return {sha256: (state, problem) for sha256, state, problem in rows}

    def has_settled(self, user: str) -> bool:
        """Whether nothing waits to be read and the log is learned as it stands."""
        key = self._owner(user)[0]
        files, learned, [[_, _, revision]] = self._ask([(FILES, key), (LEARNED, key), (OWNER, user)])
        return all(state != "received" for _, state, _ in files) and learned == [(revision,)]

    def digest(self, user: str) -> dict[str, str]:
        """Digest of each kind of row of a log, without keys and times of writing."""
        key = self._owner(user)[0]
        names = [*GIVEN, *LEARNT]
        answers = self._ask([((GIVEN | LEARNT)[name], key) for name in names])
        return {name: _digest(rows) for name, rows in zip(names, answers, strict=True)}

    def shown(self, user: str) -> tuple[str, str, str]:
        """Fit on show, and digests of the loads and of the trend that the pages show at this moment."""
        key = self._owner(user)[0]
        [[_, source, _]], loads, trend = self._ask(
            [(OWNER, user), (LEARNT["loads"], key), (LEARNT["trend"], key)]
        )
        return source, _digest(loads), _digest(trend)


def _digest(rows: Iterable[tuple[Any, ...]]) -> str:
    plain = sorted(
        repr(tuple(bytes(cell) if isinstance(cell, memoryview | bytes) else str(cell) for cell in row))
        for row in rows
    )
    return hashlib.sha256("\n".join(plain).encode()).hexdigest()[:16] + f" of {len(plain)}"
