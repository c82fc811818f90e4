"""A log in which every kind of row has a row, to be walked by whoever must not see it."""

# mypy: disable-error-code="union-attr"

import numpy as np
from django.db import models

from accuracy.core.agreement.pair_agreement import agree
from accuracy.models import (
    Advice,
    ErrorProfile,
    Fit,
    LearningState,
    Pair,
    PartEvidence,
    PlannedStrap,
    Report,
    ReportFile,
    StrapGain,
    StrapPlan,
    Stretch,
)
from tests.builders import MORNING, activity_of, athlete, csv_file, estimate, imported, sensor, strap
from trainlog import models as log
from trainlog import trace_blob
from trainlog.load.draws import DRAWS
from trainlog.models.intensity_estimate import minutes_bytes
from trainlog.services.deletions import delete_row
from trainlog.services.edit_workout import set_note
from trainlog.services.sensors import note_firmware

ROWS = {
    # What stands before a parameter in an address: the owner's row that it names.
    "files": lambda owner: log.Recording.objects.of(owner).filter(state="read").first(),
    "workouts": lambda owner: log.Workout.objects.of(owner).first(),
    "parts": lambda owner: log.Part.objects.of(owner).first(),
    "sets": lambda owner: log.LiftSet.objects.of(owner).first(),
    "pairs": lambda owner: Pair.objects.of(owner).first(),
    "sensors": lambda owner: log.Sensor.objects.of(owner).get(name__endswith="wrist"),
    "deleted": lambda owner: log.Deletion.objects.of(owner).get(),
    "tokens": lambda owner: log.ApiToken.objects.of(owner).get(beginning="tl_"),
    "sign-ins": lambda owner: log.SignIn.objects.of(owner).filter(browser__endswith="browser").get(),
    "reports": lambda owner: Report.objects.of(owner).get(),
    "stays": lambda owner: log.Stay.objects.of(owner).get(),
    "activities": lambda owner: log.Activity.objects.of(owner).get(slug__endswith="walk"),
    "planned": lambda owner: log.PlannedSession.objects.of(owner).first(),
    "planned-sessions": lambda owner: log.PlannedSession.objects.of(owner).first(),
}
MONTHS = {"calendar"}
"""What stands before a parameter that is a month."""
DAYS = {"week", "weeks", "check-in", "check-ins", "unknown-days"}
"""What stands before a parameter that is a day, and so belongs to nobody."""


def fields_naming_rows_of(owner):
    """Enough for any form of the site, and every choice in it a row of the owner's."""
    named = {
        "sensor": ROWS["sensors"](owner).pk,
        "sensors": ROWS["sensors"](owner).pk,
        "activity": ROWS["activities"](owner).pk,
        "recording": ROWS["files"](owner).pk,
        "workout": ROWS["workouts"](owner).pk,
        "part": ROWS["parts"](owner).pk,
        "row": log.Physiology.objects.of(owner).get().pk,
    }
    plain = {
        "from": MORNING.date().isoformat(),
        "to": MORNING.date().isoformat(),
        "name": "new one",
        "site": "wrist",
        "principle": "optical",
        "version": "3",
        "from_day": "2026-03-05",
        "day": MORNING.date().isoformat(),
        "time": "10:00",
        "minutes": "5",
        "session_rpe": "5",
        "note": "new note",
        "tags": "gym",
        "exercise": "press",
        "sets": "3",
        "repetitions": "5",
        "kilograms": "60",
        "resting_rate": "51",
        "resting_error": "3",
        "maximum_rate": "191",
        "maximum_source": "measured",
        "maximum_error": "3",
        "weighting": "men",
        "time_zone": "UTC",
        "low": "100",
        "high": "200",
        "kind": "maximum",
        "value": "195",
        "first_day": MORNING.date().isoformat(),
        "last_day": MORNING.date().isoformat(),
    }
    return plain | named


def full_log(name, mark):
    """A log in which every kind of row has a row, every text the mark."""
    owner = athlete(f"{mark}{name}")
    log.Activity.objects.of(owner).filter(slug="walk").update(slug=f"{mark}walk", name=f"{mark}walk")
    log.Physiology.objects.create(owner=owner, from_day=MORNING.date(), resting_rate=50, maximum_rate=190)
    worn = sensor(owner, f"{mark}wrist", source_key=f"csv:{mark}wrist")
    strap(owner, f"{mark}strap", source_key=f"csv:{mark}strap")
    note_firmware(worn, f"{mark}2.1", MORNING.date())
    log.CheckIn.objects.create(owner=owner, day=MORNING.date(), note=f"{mark}note")
    log.TextLayout.objects.create(owner=owner, key="header", columns={"time": f"{mark}clock"})
    sports = (f"{mark}walk",)
    tested = imported(owner, csv_file(bpm=130, device=f"{mark}wrist", sports=sports), f"{mark}w.csv")
    reference = imported(owner, csv_file(bpm=140, device=f"{mark}strap", sports=sports), f"{mark}s.csv")
    imported(owner, f"{mark} is no recording".encode(), f"{mark}x.csv")
    part = tested.workout.parts.get()
    set_note(part.workout, f"{mark}note")
    owner.refresh_from_db()
    _meant_and_minded(owner, part, mark)
    _learned(owner, part, tested, reference, mark)
    return owner


def _meant_and_minded(owner, part, mark):
    """What the athlete plans, notes beside workouts and wants minded."""
    day = MORNING.date()
    walk = activity_of(owner, f"{mark}walk")
    part.workout.tags.add(log.Tag.objects.create(owner=owner, name=f"{mark}tag"))
    log.LiftSet.objects.create(owner=owner, part=part, place=0, exercise=f"{mark}squat", repetitions=5)
    log.WeekPlan.objects.create(owner=owner, monday=day, measure="trimp", low=100, note=f"{mark}plan")
    log.PlannedSession.objects.create(owner=owner, day=day, activity=walk, note=f"{mark}meant")
    log.UnknownDay.objects.create(owner=owner, day=day, note=f"{mark}away")
    log.Stay.objects.create(owner=owner, time_zone="UTC", first_day=day, last_day=day)
    log.Care.objects.create(owner=owner, pregnancy=True)
    log.ClaimedRecovery.objects.create(owner=owner, workout=part.workout, fed_by="wrist", hours=24)
    log.DeclinedOffer.objects.create(owner=owner, kind="maximum", value=195)
    log.UploadKey.objects.create(owner=owner, key=f"{mark}key", sha256="b" * 64, answer=f"{mark}answer")
    log.Publication.objects.create(owner=owner, source=f"{mark}source", parts=1, first_day=day)
    meant = log.PlannedSession.objects.create(owner=owner, day=day, activity=walk, note=f"{mark}dropped")
    delete_row(meant, f"{mark}run")
    log.SignIn.objects.create(owner=owner, browser=f"{mark}browser")
    log.ApiToken.objects.create(
        owner=owner, name=f"{mark}program", beginning="tl_", sha256=f"{mark}{owner.pk}", expires_at=MORNING
    )


def _learned(owner, part, tested, reference, mark):
    """What was learned from it and is shown."""
    worn = tested.sensor
    nothing = np.zeros(256, "<f4").tobytes()
    fit = Fit.objects.create(
        owner=owner,
        inputs_hash="a" * 64,
        method_version=1,
        pair_count=1,
        **{
            field.name: b""
            for field in Fit._meta.fields
            if isinstance(field, models.BinaryField) and not field.null
        },
    )
    owner.current_source = fit.source
    owner.save()
    part.owner = owner
    estimate(part, 40, reason=f"{mark}reason")
    ErrorProfile.objects.create(
        owner=owner,
        fit=fit,
        sensor=worn,
        activity=activity_of(owner, f"{mark}walk"),
        pair_count=1,
        ratio=1.1,
        ratio_low=1.0,
        ratio_high=1.2,
        within_ten=0.8,
        raw_within_ten=0.3,
        advice=Advice.STRAP_ADVISED,
        reason=f"{mark}reason",
    )
    report = Report.objects.create(owner=owner, state=Report.State.MADE)
    report.sensors.add(worn)
    for kind in ReportFile.Kind:
        ReportFile.objects.create(owner=owner, report=report, kind=kind, content=b"", byte_count=0)
    plan = StrapPlan.objects.create(
        owner=owner, fit=fit, last_day=MORNING.date(), weeks=1, parts=1, measured_parts=0, half_width=0.1
    )
    cell = {"owner": owner, "sensor": worn, "activity": activity_of(owner, f"{mark}walk")}
    PlannedStrap.objects.create(
        plan=plan, sessions_a_week=1, expected_half_width=0.05, worn_half_width=0.04, rank=1, **cell
    )
    StrapGain.objects.create(
        day=MORNING.date(), pairs=1, expected_from=0.2, expected_to=0.1, came_to=0.1, **cell
    )
    Pair.objects.create(
        owner=owner,
        part=part,
        reference=reference,
        tested=tested,
        usable=True,
        remarks=[f"{mark}remark"],
        shift=0,
        shift_ambiguous=False,
        common_seconds=600,
        agreement=agree(reference.trace().heart_rate, tested.trace().heart_rate).as_dict(),
        reference_histogram=nothing,
        tested_histogram=nothing,
        reference_trace=trace_blob.pack(reference.trace()),
        tested_trace=trace_blob.pack(tested.trace()),
    )
    Stretch.objects.create(
        owner=owner,
        part=part,
        recording=tested,
        seconds=600,
        valid_seconds=600,
        histogram=nothing,
        flags=[[0, 60, f"{mark}flag"]],
    )
    PartEvidence.objects.create(owner=owner, part=part, input_revision=1, method_version=1)
    LearningState.objects.create(owner=owner, failure=f"{mark}failure")
    log.IntensityEstimate.objects.create(
        owner=owner,
        part=part,
        source=fit.source,
        bands=minutes_bytes(np.zeros((DRAWS, 5))),
        bands_of_maximum=minutes_bytes(np.zeros((DRAWS, 5))),
        domains=minutes_bytes(np.zeros((DRAWS, 3))),
    )
    log.TrendWeek.objects.create(
        owner=owner,
        measure="trimp",
        source="an older one",
        monday=MORNING.date(),
        inputs=b"",
        figures=b"",
        state=b"",
    )
