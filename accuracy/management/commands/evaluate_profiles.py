"""Print how far corrected loads lie from the reference's, each workout held out in turn."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from accuracy.core.evaluate import HeldOut, Outcome, Summary, leave_one_workout_out, summarise
from accuracy.services.evaluation import STUDY_PHYSIOLOGY, log_sessions, study_sessions
from trainlog.models import Athlete

HEADER = (
    f"{'session':<34}{'activity':<20}{'pairs':>6}{'load':>8}{'raw':>9}{'corrected':>11}{'80% width':>11}"
    f"{'prior':>8}  covers"
)


class Command(BaseCommand):
    """``evaluate_profiles --study FOLDER`` or ``evaluate_profiles --user NAME``."""

    help = "Hold out each workout, learn from the others, correct the wrist alone, and print the errors."

    def add_arguments(self, parser: CommandParser) -> None:
        """Where the pairs come from."""
        where = parser.add_mutually_exclusive_group(required=True)
        where.add_argument("--study", type=Path, help="folder of the one-athlete study")
        where.add_argument("--user", help="whose log to evaluate on")

    def handle(self, *args: Any, **options: Any) -> None:
        """Print one line a session, then each activity and all together."""
        sessions, seed = self._study(options["study"]) if options["study"] else self._log(options["user"])
        if len(sessions) < 2:
            raise CommandError("Fewer than two usable pairs: there is nothing to hold out against.")
        outcomes = leave_one_workout_out(sessions, seed=seed)
        self.stdout.write(HEADER)
        for outcome in outcomes:
            self.stdout.write(self._line(outcome))
        self.stdout.write("\nMean absolute error of load and mean width, in % of the reference's load:")
        for activity in sorted({session.pair.cell.activity for session in sessions}):
            chosen = [outcome for outcome in outcomes if outcome.session.pair.cell.activity == activity]
            self.stdout.write(self._total(activity, summarise(chosen)))
        self.stdout.write(self._total("all", summarise(outcomes)))

    def _study(self, folder: Path) -> tuple[list[HeldOut], int]:
        if not (folder / "native_streams.csv.gz").exists():
            raise CommandError(f"{folder} holds no native_streams.csv.gz.")
        sessions, left_out = study_sessions(folder)
        self.stdout.write(
            "One person, one wrist sensor, and a second sensor that is OPTICAL too: the errors below are\n"
            "disagreement between two optical sensors, not error against the heart. One to four sessions an\n"
            f"activity prove little. Assumed: resting {STUDY_PHYSIOLOGY.resting:.0f}, maximum "
            f"{STUDY_PHYSIOLOGY.maximum:.0f} bpm. Shift 0.\n"
        )
        for sentence in left_out:
            self.stdout.write(f"Left out: {sentence}.\n")
        return sessions, STUDY_PHYSIOLOGY.seed

    def _log(self, user: str) -> tuple[list[HeldOut], int]:
        athlete = Athlete.objects.filter(user__username=user).first()
        if athlete is None:
            raise CommandError(f"There is no log of a user “{user}”.")
        return log_sessions(athlete), athlete.seed

    @staticmethod
    def _line(outcome: Outcome) -> str:
        return (
            f"{outcome.session.name:<34}{outcome.session.pair.cell.activity:<20}{outcome.pairs:>6}"
            f"{outcome.session.reference_load:>8.1f}{outcome.raw_error:>+8.1f}%{outcome.corrected_error:>+10.1f}%"
            f"{outcome.width:>10.0f}%{outcome.prior_width:>7.0f}%  {'yes' if outcome.covers else 'no'}"
        )

    @staticmethod
    def _total(name: str, summary: Summary) -> str:
        if summary.earns_its_name:
            judged = "correction earns its name"
        elif summary.corrected_error >= summary.raw_error:
            judged = "NO GAIN: corrected is not nearer than raw"
        else:
            judged = "NO GAIN: no narrower than the prior"
        return (
            f"{name:<20}{summary.sessions:>4} sessions: raw {summary.raw_error:5.1f}%, corrected "
            f"{summary.corrected_error:5.1f}%, width {summary.width:4.0f}% "
            f"(prior {summary.prior_width:.0f}%), {summary.covered} of {summary.sessions} covered; {judged}"
        )
