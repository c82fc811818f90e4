"""Files read a second when a thousand one-hour FIT files are imported, beside decoding them barely.

On PostgreSQL in a database of its own, with the queue and the workers as they are served. The files are kept
first, as an upload keeps them; then workers read them: one process, two processes, and two processes with the
files in four logs. The bare decoder goes through the same files on one core and on two. At last one process
learns from the log that was imported. Everything runs on the same cores, the database too.

.venv/bin/python -m benchmarks.bulk_import          # 1,000 files
.venv/bin/python -m benchmarks.bulk_import 200
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from benchmarks.own_log import settings_in
from benchmarks.own_postgres import NoPostgres, own_postgres

import benchmarks.one_thread  # noqa: F401  isort: skip
from benchmarks.readers import START, hour

if TYPE_CHECKING:
    from trainlog.models import Athlete

FILES = 1000
WANTED_OF_BARE, WANTED_OF_ONE = 0.6, 1.7
MOST_MEGABYTES = 400
DEADLINE = 900.0
LOOK_EVERY = 0.05


def decode(data: bytes) -> int:
    """Decode a file and do nothing with it."""
    import fitfast  # noqa: PLC0415

    return len(fitfast.records(data))


def bare_rate(files: Sequence[bytes], processes: int) -> float:
    """Files a second of the bare decoder."""
    with ProcessPoolExecutor(processes) as pool:
        list(pool.map(decode, files[: 4 * processes]))
        begun = time.perf_counter()
        list(pool.map(decode, files, chunksize=10))
        return len(files) / (time.perf_counter() - begun)


@contextmanager
def program(command: Sequence[str]) -> Iterator[int]:
    """A process of the installation until the end; its id."""
    with subprocess.Popen(command, start_new_session=True) as process:
        try:
            yield process.pid
        finally:
            process.terminate()


def until(ready: Callable[[], object], what: str) -> None:
    """Wait for something."""
    end = time.monotonic() + DEADLINE
    while not ready():
        if time.monotonic() > end:
            raise SystemExit(f"{what}: not within {DEADLINE:g} s")
        time.sleep(LOOK_EVERY)


def worker_of(queue: str, processes: int) -> list[str]:
    """Command of a worker of one queue with so many processes."""
    from trainlog.serve import programs  # noqa: PLC0415

    command = list({"imports": programs.reader, "learning": programs.learner}[queue]().command)
    command[command.index("--concurrency") + 1] = str(processes)
    return command


def most_memory(worker: int) -> float:
    """Largest memory that a process of a worker had until now, in MB."""
    children = Path(f"/proc/{worker}/task/{worker}/children").read_text().split()
    return max(_most_memory(pid) for pid in [str(worker), *children])


def _most_memory(pid: str) -> float:
    line = next(line for line in Path(f"/proc/{pid}/status").read_text().splitlines() if "VmHWM" in line)
    return int(line.split()[1]) / 1000


def open_log_of(name: str, files: Sequence[bytes]) -> tuple[Athlete, float]:
    """Log with files that wait to be read, and how many were kept a second."""
    from django.contrib.auth.models import User  # noqa: PLC0415

    from trainlog.models import Physiology, Sensor  # noqa: PLC0415
    from trainlog.readers import read  # noqa: PLC0415
    from trainlog.services.athletes import open_log  # noqa: PLC0415
    from trainlog.services.import_files import receive  # noqa: PLC0415

    athlete = open_log(User.objects.create(username=name), seed=11)
    Physiology.objects.create(owner=athlete, from_day=START.date(), resting_rate=50, maximum_rate=188)
    source = read(files[0], now=START + timedelta(days=1)).source_key
    Sensor.objects.create(owner=athlete, name="wrist", site="wrist", principle="optical", source_key=source)
    begun = time.perf_counter()
    for number, content in enumerate(files):
        receive(athlete, f"{number}.fit", content, wakes_a_worker=False)
    return athlete, len(files) / (time.perf_counter() - begun)


def reading_rate(processes: int, logs: Mapping[str, Sequence[bytes]]) -> tuple[float, float, float]:
    """Files kept a second, files read a second, and the most memory of a reading process in MB."""
    from trainlog.celery import app  # noqa: PLC0415
    from trainlog.models import Recording  # noqa: PLC0415
    from trainlog.services.import_files import READ_TASK  # noqa: PLC0415
    from trainlog.services.sweep import AT_ONCE  # noqa: PLC0415
    from trainlog.services.wake import wake  # noqa: PLC0415

    kept = [open_log_of(name, files)[1] for name, files in logs.items()]
    waiting = Recording.objects.filter(state=Recording.State.RECEIVED)
    total = waiting.count()
    with program(worker_of("imports", processes)) as worker:
        until(lambda: app.control.ping(timeout=1), "the worker answers")
        begun = time.perf_counter()
        for _ in range(AT_ONCE):
            wake(READ_TASK, True)
        until(lambda: not waiting.exists(), "all is read")
        taken = time.perf_counter() - begun
        memory = most_memory(worker)
    if Recording.objects.exclude(state=Recording.State.READ).exists():
        raise SystemExit("a file was refused")
    return min(kept), total / taken, memory


def learn_from(name: str) -> tuple[float, float]:
    """Seconds until a log is learned from by one process, and the most memory of it in MB."""
    from accuracy.models import LearningState  # noqa: PLC0415
    from accuracy.services.stale import is_learned  # noqa: PLC0415
    from accuracy.tasks import LEARN_TASK  # noqa: PLC0415
    from trainlog.celery import app  # noqa: PLC0415
    from trainlog.models import Athlete  # noqa: PLC0415
    from trainlog.services.wake import wake  # noqa: PLC0415

    athlete = Athlete.objects.get(user__username=name)
    app.control.purge()
    with program(worker_of("learning", 1)) as worker:
        until(lambda: app.control.ping(timeout=1), "the worker answers")
        begun = time.perf_counter()
        wake(LEARN_TASK, athlete.pk)
        until(lambda: is_learned(Athlete.objects.get(pk=athlete.pk)), "all is learned")
        taken = time.perf_counter() - begun
        until(lambda: not LearningState.objects.exclude(claimed_until=None).exists(), "nobody is at it")
        return taken, most_memory(worker)


def measure(files: Sequence[bytes]) -> None:
    """Print what was measured on the installation in force."""
    bare = {processes: bare_rate(files, processes) for processes in (1, 2)}
    print(f"bare decoding: {bare[1]:.0f} files a second on one core, {bare[2]:.0f} on two", flush=True)
    quarter = len(files) // 4
    four = {f"four-{log}": files[log * quarter : (log + 1) * quarter] for log in range(4)}
    ways = {
        "one process": (1, {"one": files}),
        "two processes": (2, {"two": files}),
        "two processes, four logs": (2, four),
    }
    rates, memories = {}, []
    for name, (processes, logs) in ways.items():
        kept, rates[name], memory = reading_rate(processes, logs)
        memories.append(memory)
        print(
            f"{name:<26}{kept:>6.0f} files a second kept, {rates[name]:>4.0f} read "
            f"({rates[name] / bare[processes]:.2f} of bare decoding on as many cores), "
            f"a process with {memory:.0f} MB at most",
            flush=True,
        )
    taken, memory = learn_from("one")
    print(f"learning from {len(files)} workouts: {taken:.0f} s, a process with {memory:.0f} MB at most")
    one, two, apart = rates.values()
    print(
        f"Two processes read {two / one:.2f} of what one does, and {apart / one:.2f} in four logs; wanted "
        f"{WANTED_OF_ONE}. Wanted of bare decoding: {WANTED_OF_BARE}. Wanted of memory: less than "
        f"{MOST_MEGABYTES} MB; it was {max(*memories, memory):.0f}."
    )


def measure_installation(count: int) -> None:
    """Set up an installation and measure."""
    with tempfile.TemporaryDirectory(prefix="trainlog-bench-") as folder, own_postgres() as database:
        os.environ |= settings_in(folder) | database
        del os.environ["TRAINLOG_BROKER_URL"]
        import django  # noqa: PLC0415

        django.setup()
        from django.conf import settings  # noqa: PLC0415
        from django.core.management import call_command  # noqa: PLC0415

        from trainlog.runtime_folder import queue_socket, runtime_folder  # noqa: PLC0415
        from trainlog.serve import programs  # noqa: PLC0415
        from trainlog.serve.answers import queue_answers  # noqa: PLC0415

        call_command("migrate", verbosity=0)
        runtime = runtime_folder(settings.DATA_FOLDER)
        runtime.mkdir(mode=0o700)
        socket = queue_socket(settings.DATA_FOLDER)
        files = [hour(start=START - timedelta(days=number)) for number in range(count)]
        print(f"{count} FIT files of an hour, {sum(map(len, files)) / count / 1000:.0f} kB each")
        try:
            with program(programs.queue(settings.DATA_FOLDER, socket).command):
                until(lambda: queue_answers(socket), "the queue answers")
                measure(files)
        finally:
            shutil.rmtree(runtime)


def main(count: int) -> None:
    """Measure, where there is a PostgreSQL."""
    try:
        measure_installation(count)
    except NoPostgres as none:
        print(f"{none}, so nothing is measured")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else FILES)
