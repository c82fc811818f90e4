"""Time to learn from and to estimate a log of many workouts, in a database of its own in a temporary folder.

.venv/bin/python -m benchmarks.long_log
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from accuracy.core.evaluation.simulate_athletes import ACTIVITIES, SimulatedSession, simulate_athlete
from benchmarks.own_log import own_log
from trainlog import trace_blob
from trainlog.trace import FloatArray, Trace

if TYPE_CHECKING:
    from trainlog.models import Athlete

HOUR = 3600
PAIRS = 200
"""Workouts with a strap, spread evenly."""

DIFFERENT = 8
"""Sessions of each activity that are simulated; the log repeats them, since only the size matters."""

FIRST_MORNING = datetime(2016, 1, 4, 6, 30, tzinfo=UTC)


@lru_cache
def session(activity: str, number: int) -> SimulatedSession:
    """One simulated session, an hour long."""
    return simulate_athlete(11, broad=True).session(activity, number)


def hour_of(values: FloatArray) -> FloatArray:
    """Signal cut or repeated to one hour."""
    return np.resize(values, HOUR)


def open_log_of(workouts: int, name: str, first: datetime = FIRST_MORNING) -> Athlete:
    """Log with so many hours of the wrist, one a day from the first, and a strap in ``PAIRS`` of them."""
    from django.contrib.auth.models import User  # noqa: PLC0415

    from trainlog.models import Activity, Part, Physiology, Recording, Sensor, Workout  # noqa: PLC0415
    from trainlog.readers.reading import Clock  # noqa: PLC0415
    from trainlog.services.athletes import open_log  # noqa: PLC0415

    athlete = open_log(User.objects.create(username=name), seed=11)
    Physiology.objects.create(owner=athlete, from_day=first.date(), resting_rate=50, maximum_rate=188)
    wrist = Sensor.objects.create(owner=athlete, name="wrist", site="wrist", principle="optical")
    strap = Sensor.objects.create(owner=athlete, name="strap", site="chest", principle="electrical")
    activities = {row.slug: row for row in Activity.objects.of(athlete)}
    names, rng = list(ACTIVITIES), np.random.default_rng(0)
    recordings: list[Recording] = []
    for number in range(workouts):
        begun = first + timedelta(days=number)
        ends = begun + timedelta(seconds=HOUR)
        activity = names[number % len(names)]
        made = session(activity, number // len(names) % DIFFERENT)
        workout = Workout.objects.create(owner=athlete, start=begun, end=ends, day=begun.date())
        Part.objects.create(
            owner=athlete,
            workout=workout,
            start=begun,
            end=ends,
            activity=activities[activity],
            session_rpe=made.session_rpe,
        )
        worn = [(wrist, made.tested * rng.normal(1, 0.05))]
        if number % max(workouts // PAIRS, 1) == 0:
            worn.append((strap, made.reference))
        recordings += [
            Recording(
                owner=athlete,
                sha256=f"{name}-{number}-{sensor.name}",
                file_name=f"{number}.fit",
                byte_count=1,
                received_at=ends,
                state=Recording.State.READ,
                clock=Clock.SYNCHRONISED.value,
                start=begun,
                end=ends,
                sensor=sensor,
                workout=workout,
                trace_blob=trace_blob.pack(Trace(begun, hour_of(trace))),
            )
            for sensor, trace in worn
        ]
    Recording.objects.bulk_create(recordings, batch_size=200)
    return athlete


def seconds_of(action: Callable[[], Any]) -> float:
    """Time that an action takes."""
    begun = time.perf_counter()
    action()
    return time.perf_counter() - begun


def measure(workouts: int, name: str) -> tuple[float, float, float]:
    """Seconds to learn from the traces, to estimate all anew from what is kept, and to add one pair."""
    from accuracy.services.learn import learn  # noqa: PLC0415
    from trainlog.models import Part, Recording, Sensor  # noqa: PLC0415
    from trainlog.services.log_changed import log_changed  # noqa: PLC0415

    athlete = open_log_of(workouts, name)

    def learn_all() -> None:
        while not learn(athlete, seconds=600):
            pass

    def change_what_is_near() -> None:
        athlete.refresh_from_db()
        athlete.near_per_cent += 1
        athlete.save(update_fields=["near_per_cent"])
        log_changed(athlete)

    from_traces = seconds_of(learn_all)
    change_what_is_near()
    from_kept = seconds_of(learn_all)
    part = Part.objects.of(athlete).exclude(workout__recordings__sensor__name="strap").latest("start")
    worn = part.workout.recordings.get()
    Recording.objects.create(
        owner=athlete,
        sha256=f"{name}-one-more",
        file_name="one more.fit",
        byte_count=1,
        state=Recording.State.READ,
        clock=worn.clock,
        start=worn.start,
        end=worn.end,
        sensor=Sensor.objects.of(athlete).get(name="strap"),
        workout=part.workout,
        trace_blob=worn.trace_blob,
    )
    log_changed(athlete, [part])
    return from_traces, from_kept, seconds_of(learn_all)


def main() -> None:
    """Print seconds for logs of three sizes."""
    with own_log():
        print(f"{'workouts':>9}{'from traces':>13}{'from what is kept':>19}{'one more pair':>15}   seconds")
        for workouts in (500, 1825, 3650):
            measured = measure(workouts, f"log{workouts}")
            print(f"{workouts:>9}{measured[0]:>13.1f}{measured[1]:>19.1f}{measured[2]:>15.1f}", flush=True)
        print(
            "Wanted: from traces 60 s and from what is kept 30 s for 3650 workouts, linear; one more pair 3 s"
        )
        print("for 500.")


if __name__ == "__main__":
    main()
