"""Print how far corrected loads lie from the reference's, each workout held out in turn."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pandas as pd
from django.core.management.base import BaseCommand, CommandError, CommandParser

from accuracy.charts import calibration
from accuracy.core.evaluation.bars import PAIRS, Bar, coverage_bars, error_bars, spoiled_bars
from accuracy.core.evaluation.held_out import (
    AS_IT_STANDS,
    PUBLISHED,
    forward_in_time,
    leave_one_workout_out,
    table,
)
from accuracy.core.evaluation.simulate_athletes import SENSOR_TROUBLE, Trouble
from accuracy.core.evaluation.simulated_log import Setting
from accuracy.services.evaluation import STUDY_PHYSIOLOGY, log_sessions, study_sessions
from accuracy.services.simulated_evaluation import SimulatedEvaluation, evaluate_simulated
from trainlog.charts.picture import save_picture
from trainlog.models import Athlete

FIRST_SEED = 5000
"""Of the simulated athletes that figures are reported of; development used others."""

SHOWN = {
    "absolute error": "error",
    "median absolute error": "median",
    "interval score": "score",
    "width": "width",
    "coverage 50": "50%",
    "coverage 80": "80%",
    "coverage 95": "95%",
}
"""Columns printed beside trials and athletes, by their short names."""

SPOILED = frozenset({Trouble.DRY_STRAP, Trouble.STRAP_DROP_OUTS})


class Command(BaseCommand):
    """``evaluate_profiles --study FOLDER``, ``--user NAME`` or ``--simulated N``."""

    help = (
        "Hold out each workout, learn everything anew from the others, predict the held-out wrist recording, "
        "and print the errors; or learn from simulated athletes and predict their wrist-only sessions."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Where the pairs come from, and where the figures go."""
        where = parser.add_mutually_exclusive_group(required=True)
        where.add_argument("--study", type=Path, help="folder of the one-athlete study")
        where.add_argument("--user", help="whose log to evaluate on")
        where.add_argument("--simulated", type=int, metavar="N", help="so many simulated athletes")
        parser.add_argument("--forward", action="store_true", help="learn from earlier workouts only")
        parser.add_argument("--pairs", default="2,4,8,16", help="pairs a cell, of simulated athletes")
        parser.add_argument(
            "--troubles", action="store_true", help="one trouble of the sensors at a time, at 8 pairs"
        )
        parser.add_argument("--first-seed", type=int, default=FIRST_SEED)
        parser.add_argument("--processes", type=int, default=2)
        for kind in ("csv", "json", "picture"):
            parser.add_argument(f"--{kind}", type=Path, help=f"also write a {kind} file")

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the tables, and write what files were asked for."""
        if options["simulated"]:
            rows, by = self._simulated(options)
        else:
            rows, by = self._held_out(options)
        whole = table(rows, by)
        if options["csv"]:
            whole.to_csv(options["csv"])
        if options["json"]:
            options["json"].write_text(json.dumps(whole.reset_index().to_dict("records"), indent=1))
        if options["picture"]:
            shown = rows[rows["method"] == PUBLISHED]
            groups = {str(name): group["probability"].to_numpy() for name, group in shown.groupby("family")}
            save_picture(calibration(groups), options["picture"])

    def _held_out(self, options: dict[str, Any]) -> tuple[pd.DataFrame, list[str]]:
        held, seed = self._study(options["study"]) if options["study"] else self._log(options["user"])
        if len(held) < 2:
            raise CommandError("Fewer than two usable pairs: there is nothing to hold out against.")
        evaluate = forward_in_time if options["forward"] else leave_one_workout_out
        rows = evaluate(held, seed=seed)
        if rows.empty:
            raise CommandError("No workout has two pairs before it: there is nothing to learn from.")
        self.stdout.write(self._sessions(rows))
        self.stdout.write("\nIn % of the reference's load; score: interval score of the 80% interval.")
        for by in (["activity"], []):
            self._print(rows, by)
        self._judge(rows)
        return rows, ["activity"]

    def _simulated(self, options: dict[str, Any]) -> tuple[pd.DataFrame, list[str]]:
        seeds = range(options["first_seed"], options["first_seed"] + options["simulated"])

        def run(setting: Setting) -> SimulatedEvaluation:
            return evaluate_simulated(seeds, setting, processes=options["processes"])

        if options["troubles"]:
            found = [
                run(Setting(True, frozenset(on), (8,))).rows.assign(trouble=name)
                for name, on in [("none", ()), *((one.value, (one,)) for one in Trouble)]
            ]
            rows = pd.concat(found)
            self._print(rows, ["trouble"])
            return rows, ["trouble", "family"]
        pairs = tuple(int(count) for count in options["pairs"].split(","))
        bars: list[Bar] = []
        settings = []
        for broad in (False, True):
            evaluated = run(Setting(broad, SENSOR_TROUBLE, pairs))
            name = "broad" if broad else "narrow"
            settings.append(evaluated.rows.assign(setting=name))
            self.stdout.write(f"\n{name} setting, {len(seeds)} athletes; in % of the true load")
            self._print(evaluated.rows, ["pairs", "family"])
            self._print(evaluated.rows, ["pairs"])
            self.stdout.write("\nSums of 13 weeks")
            self.stdout.write(self._of_sums(evaluated.sums))
            if PAIRS in pairs:
                bars += error_bars(evaluated.rows, broad=broad)
            bars += coverage_bars(evaluated.rows, evaluated.sums, broad=broad)
            if broad and PAIRS in pairs:
                spoiled = run(Setting(True, SENSOR_TROUBLE | SPOILED, (8,)))
                bars += spoiled_bars(evaluated.rows, spoiled.rows)
        self.stdout.write("\nBars")
        for bar in bars:
            self.stdout.write(self._bar(bar))
        return pd.concat(settings), ["setting", "pairs", "family"]

    def _study(self, folder: Path) -> tuple[list[Any], int]:
        if not (folder / "native_streams.csv.gz").exists():
            raise CommandError(f"{folder} holds no native_streams.csv.gz.")
        held, left_out = study_sessions(folder)
        self.stdout.write(
            "One person, one wrist sensor, and a second sensor that is OPTICAL too: the errors below are\n"
            "disagreement between two optical sensors, not error against the heart. One to four sessions an\n"
            f"activity prove little. Assumed: resting {STUDY_PHYSIOLOGY.resting:.0f}, maximum "
            f"{STUDY_PHYSIOLOGY.maximum:.0f} bpm. Shift 0.\n"
        )
        for sentence in left_out:
            self.stdout.write(f"Left out: {sentence}.\n")
        return held, STUDY_PHYSIOLOGY.seed

    def _log(self, user: str) -> tuple[list[Any], int]:
        athlete = Athlete.objects.filter(user__username=user).first()
        if athlete is None:
            raise CommandError(f"There is no log of a user “{user}”.")
        return log_sessions(athlete), athlete.seed

    @staticmethod
    def _sessions(rows: pd.DataFrame) -> str:
        """One line a session: as it stands and as published."""
        wide = rows.pivot_table(
            index=["name", "pairs", "true_load"], columns="method", values="error", sort=False
        )
        shown = rows[rows["method"] == PUBLISHED].set_index(["name", "pairs", "true_load"])
        lines = pd.DataFrame(
            {
                "as it stands": wide[AS_IT_STANDS],
                "constant": wide["constant"],
                "published": wide[PUBLISHED],
                "width": shown["width"],
                "held": shown["covers_80"].map({1.0: "yes", 0.0: "no"}),
            }
        )
        return lines.reset_index().round(1).rename(columns={"true_load": "load"}).to_string(index=False)

    def _print(self, rows: pd.DataFrame, by: list[str]) -> None:
        figures = table(rows, by)
        shown = figures[["trials"]].copy()
        for name, short in SHOWN.items():
            shown[short] = figures[name].map("{:.1f}".format)
            if figures["athletes"].max() > 1 and name != "median absolute error":
                shown[short] += figures[f"± {name}"].map(" ±{:.1f}".format)
        self.stdout.write("\n" + shown.to_string())

    def _judge(self, rows: pd.DataFrame) -> None:
        for activity, of_activity in rows.groupby("activity"):
            sizes = of_activity.assign(size=of_activity["error"].abs()).groupby("method")["size"].mean()
            gain = sizes[PUBLISHED] < sizes[AS_IT_STANDS]
            self.stdout.write(
                f"{activity}: {sizes[AS_IT_STANDS]:.1f}% as it stands, {sizes[PUBLISHED]:.1f}% published"
                + ("" if gain else ": NO GAIN")
            )

    @staticmethod
    def _of_sums(sums: pd.DataFrame) -> str:
        grouped = sums.assign(error=sums["error"].abs(), covers=100 * sums["covers_80"]).groupby(
            ["pairs", "method"]
        )
        shown = grouped[["error", "width", "covers"]].mean().rename(columns={"covers": "80%"})
        shown["± 80%"] = grouped["covers"].sem()
        return str(shown.round(1).to_string())

    @staticmethod
    def _bar(bar: Bar) -> str:
        wanted = f"at most {bar.high:.4g}" if bar.low <= 0 else f"{bar.low:.4g} to {bar.high:.4g}"
        judged = "holds" if bar.holds else "MISSED" if bar.broken else "missed, within chance"
        return f"{bar.name}: {bar.value:.3g} ±{bar.error:.2g} (wanted {wanted}): {judged}"
