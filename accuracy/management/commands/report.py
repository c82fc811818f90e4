"""Write an evidence report into a folder, without queue or worker."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from accuracy.report.gather import gather
from accuracy.report.make import FILE_NAMES, files_of
from accuracy.services.reports import nothing_to_report
from trainlog.models import Athlete, Sensor


class Command(BaseCommand):
    """``report --user NAME --sensor NAME FOLDER``."""

    help = "Write the evidence on tested sensors as a page, a PDF and an archive of figures and data."

    def add_arguments(self, parser: CommandParser) -> None:
        """Whose log, which sensors and days, and where the files go."""
        parser.add_argument("--user", required=True, help="whose log")
        parser.add_argument("--sensor", action="append", required=True, help="tested sensor; may be repeated")
        parser.add_argument("--anonymised", action="store_true", help="leave out names, days and places")
        parser.add_argument("--from", dest="first_day", type=date.fromisoformat, help="first day, YYYY-MM-DD")
        parser.add_argument("--until", dest="last_day", type=date.fromisoformat, help="last day, included")
        parser.add_argument("folder", type=Path, help="made where it is missing")

    def handle(self, *args: Any, **options: Any) -> None:
        """Gather, write, and say what was written."""
        athlete = Athlete.objects.filter(user__username=options["user"]).first()
        if athlete is None:
            raise CommandError(f"There is no user called {options['user']} with a log.")
        sensors = [self._sensor(athlete, name) for name in dict.fromkeys(options["sensor"])]
        days = options["first_day"], options["last_day"]
        if None not in days and days[1] < days[0]:
            raise CommandError("The last day must not be before the first.")
        if reason := nothing_to_report(athlete, sensors, *days):
            raise CommandError(reason)
        files = files_of(
            gather(athlete, sensors, anonymised=options["anonymised"], first_day=days[0], last_day=days[1])
        )
        folder: Path = options["folder"]
        folder.mkdir(parents=True, exist_ok=True)
        for kind, content in files.items():
            path = folder / FILE_NAMES[kind]
            path.write_bytes(content)
            self.stdout.write(f"{path}: {len(content) / 1e6:.1f} MB")

    def _sensor(self, athlete: Athlete, name: str) -> Sensor:
        sensor = Sensor.objects.of(athlete).filter(name=name).first()
        if sensor is None:
            raise CommandError(f"There is no sensor called {name} in this log.")
        return sensor
