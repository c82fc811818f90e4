"""Run the whole installation."""

from __future__ import annotations

import os
import shlex
import shutil
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError, connection
from django.utils import timezone

from trainlog.runtime_folder import queue_socket, runtime_folder
from trainlog.serve import answers, demo, folders, holds, programs
from trainlog.serve.supervisor import Failed, StopAsked, Supervisor

NAME_WIDTH = len("scheduler")


class Command(BaseCommand):
    """``manage.py serve``: everything from the database's tables to the web, until Ctrl-C."""

    help = "Prepare the database and run queue, web, workers and scheduler until stopped."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the options."""
        parser.add_argument("--address", default="127.0.0.1:8000", help="host:port to listen on")
        parser.add_argument("--without-demo", action="store_true", help="leave an empty log empty")

    def handle(self, *args: Any, address: str, without_demo: bool, **options: Any) -> None:
        """Serve until a stop is asked for."""
        try:
            self._serve(address, without_demo)
        except (Failed, folders.FolderRefused, TimeoutError) as problem:
            raise CommandError(str(problem)) from problem

    def _serve(self, address: str, without_demo: bool) -> None:
        host, port = _host_and_port(address)
        data_folder = Path(settings.DATA_FOLDER)
        runtime = runtime_folder(data_folder)
        held = folders.hold_data_folder(data_folder), folders.make_private_folder(runtime)
        for name in holds.end_leftovers(runtime):
            self._say("", f"Ended a {name} that an earlier start left behind.")
        if not answers.is_free(host, port):
            raise Failed(f"{address} is in use. Choose another port: make run PORT=8001.")
        environment = programs.environment(os.environ, Path(settings.BASE_DIR), data_folder)
        environment["TRAINLOG_METRICS_FOLDER"] = str(folders.make_metrics_folder(runtime))
        try:
            with Supervisor(runtime, environment, self._say) as supervisor:
                self._start_all(supervisor, address, with_demo=not without_demo)
                supervisor.watch()
                self._say("", "Stopping.")
        except StopAsked:
            pass
        finally:
            shutil.rmtree(runtime, ignore_errors=True)
            for descriptor in held:
                os.close(descriptor)
        self._say("", "Stopped.")

    def _start_all(self, supervisor: Supervisor, address: str, with_demo: bool) -> None:
        if os.getuid() == 0:
            self._say("", "Running as root; an ordinary account is enough, and safer.")
        self._say("", "Collecting the static files.")
        static_files = supervisor.begin(programs.static_files(Path(settings.BASE_DIR) / "manage.py"))
        self._say("", "Preparing the database.")
        _migrate()
        data_folder = Path(settings.DATA_FOLDER)
        socket = queue_socket(data_folder)
        if str(socket) in settings.CELERY_BROKER_URL:
            self._say("", "Starting the queue.")
            supervisor.start(programs.queue(data_folder, socket), lambda: answers.queue_answers(socket))
        self._say("", "Starting the workers.")
        for program in (programs.worker(), programs.reporter(), programs.sweeper(), programs.scheduler()):
            supervisor.start(program)
        password = self._load_demo(supervisor, data_folder) if with_demo else None
        self._say("", "Starting the web server.")
        supervisor.finish(static_files)
        host, port = _host_and_port(address)
        asked = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)
        supervisor.start(programs.web(address), lambda: answers.web_answers(asked, port))
        self._say("", f"Ready at http://{address}")
        if password:
            self._say("", f"Sign in as {demo.USER} with the password {password} (shown only now).")
            demo.end(data_folder)
        elif not get_user_model().objects.exists():
            self._say("", "Nobody can sign in yet. Make a sign-in, in another terminal:")
            self._say("", f"  {_how_to_add_a_person(data_folder)}")
        connection.close()
        self._say("", "Ctrl-C stops everything.")

    def _load_demo(self, supervisor: Supervisor, data_folder: Path) -> str | None:
        """Load the demo into an empty log, or again where that was broken off; give its password."""
        load = demo.begun(data_folder)
        if load is None:
            empty = not get_user_model().objects.exists()
            connection.close()
            if not empty:
                return None
            load = demo.begin(data_folder, last_day=timezone.now().date() - timedelta(days=1))
        self._say("", "Loading the demo scenario.")
        supervisor.finish(supervisor.begin(programs.demo()))
        return load.password

    def _say(self, name: str, line: str) -> None:
        """Show a line, the children's under their names."""
        try:
            self.stdout.write(f"{name:>{NAME_WIDTH}} | {line}" if name else line)
            self.stdout.flush()
        except BrokenPipeError:  # nobody reads any more; that is no reason to stop
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        except OSError:
            # A full disk takes no line; the next one that it takes brings this one along.
            pass


def _migrate() -> None:
    try:
        call_command("migrate", interactive=False, verbosity=0)
    except DatabaseError as error:
        raise Failed(f"The database cannot be prepared: {error}") from error
    finally:
        connection.close()


def _how_to_add_a_person(data_folder: Path) -> str:
    """Command for another terminal, which does not know of this one's settings."""
    manage = Path(settings.BASE_DIR) / "manage.py"
    words = [f"TRAINLOG_DATA_FOLDER={data_folder}", sys.executable, str(manage), "add_person", "NAME"]
    return " ".join(shlex.quote(word) if " " in word else word for word in words)


def _host_and_port(address: str) -> tuple[str, int]:
    host, _, port = address.rpartition(":")
    if not host or not port.isdecimal():
        raise Failed(f"An address looks like 127.0.0.1:8000, not {address!r}.")
    return host.strip("[]"), int(port)
