"""From a changed log to published estimates: digest, fit, estimate, flip."""

from __future__ import annotations

import logging
import time

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from accuracy.models import (
    ErrorProfile,
    Fit,
    LearningState,
    PartEvidence,
    PlannedStrap,
    StrapGain,
    StrapPlan,
    Stretch,
)
from accuracy.services.changed_loads import changed_by, changed_on_show
from accuracy.services.digest import digest
from accuracy.services.estimate import estimate
from accuracy.services.knowledge import PhysiologyOn, fit_of, gather, knowledge_of, physiology_by_day
from accuracy.services.measures import PartEstimates
from accuracy.services.method import METHOD_VERSION
from accuracy.services.profiles import current_fit, profiles_of
from accuracy.services.stale import stale, undigested
from accuracy.services.strap_plan import gains_of, plan_of
from trainlog.models import Athlete, IntensityEstimate, LoadEstimate, Part
from trainlog.pace import CLAIM, LONGEST_TASK, unclaimed
from trainlog.services.publications import note_publication
from trainlog.services.trend_store import forget_other_trends, keep_trend

logger = logging.getLogger(__name__)

BATCH = 100
"""Parts worked through between two looks at the clock."""

PAUSE_AFTER = LONGEST_TASK * 2 / 3
"""Seconds after which learning pauses, to go on in a further task."""


def learn(athlete: Athlete, *, seconds: float = PAUSE_AFTER) -> bool:
    """Bring every estimate of an athlete up to date and show them, all at once.

    Safe to call at any time and as often as one likes: what is up to date is left as it is, and
    where another worker is at the same athlete this call leaves it to that one.

    Parameters
    ----------
    athlete : Athlete
    seconds : float
        Time after which to pause.

    Returns
    -------
    bool
        True if nothing is left to do for this caller; False if it should be called again.
    """
    state, _ = LearningState.objects.get_or_create(owner=athlete)
    if not _claim(state):
        return True
    try:
        done = _learn(athlete, deadline=time.monotonic() + seconds)
    except Exception as error:
        logger.exception("Learning from log %s failed", athlete.pk)
        LearningState.objects.filter(pk=state.pk).update(
            claimed_until=None, failure=f"{type(error).__name__}: {error}"
        )
        raise
    LearningState.objects.filter(pk=state.pk).update(claimed_until=None, attempts=0, failure="")
    return done


def _claim(state: LearningState) -> bool:
    """Take the athlete's lease, unless somebody holds it."""
    return bool(
        LearningState.objects.filter(unclaimed(), pk=state.pk).update(
            claimed_until=timezone.now() + CLAIM, attempts=F("attempts") + 1
        )
    )


def _learn(athlete: Athlete, deadline: float) -> bool:
    athlete.refresh_from_db()
    revision = athlete.log_revision
    if not _digest_all(athlete, deadline):
        return False
    physiology_on = physiology_by_day(athlete)
    fit = fit_of(athlete, gather(athlete, physiology_on))
    if not _estimate_all(athlete, fit, physiology_on, deadline):
        return False
    return _publish(athlete, fit, revision)


def _digest_all(athlete: Athlete, deadline: float) -> bool:
    while parts := list(undigested(athlete).select_related("workout", "activity").order_by("start")[:BATCH]):
        for part in parts:
            digest(part)
            if time.monotonic() > deadline:
                return False
    return True


def _estimate_all(athlete: Athlete, fit: Fit, physiology_on: PhysiologyOn, deadline: float) -> bool:
    """Estimate what is stale under a fit; without any physiology no load can be told."""
    if physiology_on(timezone.now().date()) is None:
        return True
    knowledge = None
    while parts := list(
        stale(athlete, fit.source).select_related("workout", "activity").order_by("start")[:BATCH]
    ):
        knowledge = knowledge or knowledge_of(fit)
        by_key = {part.pk: part for part in parts}
        stretches: dict[int, list[Stretch]] = {part.pk: [] for part in parts}
        for stretch in (
            Stretch.objects.filter(part__in=parts)
            .select_related("recording__sensor")
            .defer("recording__trace_blob")
            .prefetch_related("recording__sensor__firmware")
            .order_by("recording__sha256")
        ):
            stretch.part = by_key[stretch.part_id]
            stretches[stretch.part_id].append(stretch)
        evidence = {row.part_id: row for row in PartEvidence.objects.filter(part__in=parts)}
        estimates = []
        for part in parts:
            physiology = physiology_on(part.workout.day)
            if physiology is not None:
                estimates.append(
                    estimate(
                        part, stretches[part.pk], knowledge, physiology, fit.source, evidence.get(part.pk)
                    )
                )
        _keep(athlete, fit.source, estimates)
        if time.monotonic() > deadline:
            return False
    return True


def _keep(athlete: Athlete, source: str, estimates: list[PartEstimates]) -> None:
    """Write estimates of parts that have not changed meanwhile; under the source on show, pages show them."""
    loads = [load for one in estimates for load in one.loads]
    with transaction.atomic():
        revisions = dict(
            Part.objects.select_for_update()
            .filter(pk__in=[one.intensity.part_id for one in estimates])
            .values_list("pk", "input_revision")
        )
        kept = [row for row in loads if revisions.get(row.part_id) == row.input_revision]
        changed = changed_on_show(athlete, source, kept)
        LoadEstimate.objects.bulk_create(
            kept,
            update_conflicts=True,
            unique_fields=["part", "measure", "source"],
            update_fields=[
                field.name
                for field in LoadEstimate._meta.fields
                if field.name not in {"id", "part", "measure", "source", "owner"}
            ],
        )
        note_publication(athlete, source, changed)
        current = {row.part_id for row in kept}
        IntensityEstimate.objects.bulk_create(
            [one.intensity for one in estimates if one.intensity.part_id in current],
            update_conflicts=True,
            unique_fields=["part", "source"],
            update_fields=["bands", "bands_of_maximum", "domains"],
        )


def _publish(athlete: Athlete, fit: Fit, revision: int) -> bool:
    """Show the estimates of a fit, if all of them are there; False if the log moved on meanwhile."""
    knowledge, physiology_on = knowledge_of(fit), physiology_by_day(athlete)
    profiles = profiles_of(fit, knowledge, physiology_on)
    planned = plan_of(fit, knowledge, physiology_on)
    gains = gains_of(fit, current_fit(athlete))
    keep_trend(athlete, fit.source)
    with transaction.atomic():
        current = Athlete.objects.select_for_update().get(pk=athlete.pk)
        if current.log_revision != revision:
            return False
        ErrorProfile.objects.filter(fit=fit).delete()
        ErrorProfile.objects.bulk_create(profiles)
        StrapPlan.objects.filter(fit=fit).delete()
        if planned is not None:
            planned.plan.save()
            PlannedStrap.objects.bulk_create(planned.rows)
        StrapGain.objects.bulk_create(gains)
        if current.current_source != fit.source:
            note_publication(athlete, fit.source, changed_by(athlete, current.current_source, fit.source))
        current.current_source = fit.source
        current.save(update_fields=["current_source"])
        Fit.objects.filter(pk=fit.pk).update(published_at=timezone.now())
        LearningState.objects.filter(owner=athlete).update(
            learned_revision=revision, learned_method=METHOD_VERSION, finished_at=timezone.now()
        )
    forget_other_trends(athlete, fit.source)
    LoadEstimate.objects.of(athlete).exclude(source=fit.source).delete()
    IntensityEstimate.objects.of(athlete).exclude(source=fit.source).delete()
    Fit.objects.of(athlete).exclude(pk=fit.pk).delete()
    return True
