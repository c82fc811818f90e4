"""The one definition of out of date."""

from __future__ import annotations

from datetime import timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from accuracy.models import LearningState, PartEvidence
from accuracy.services.method import METHOD_VERSION
from trainlog.models import Athlete, LoadEstimate, Measure, Part, Recording
from trainlog.models.owned import OwnedQuerySet
from trainlog.pace import unclaimed
from trainlog.services.demo import unfinished_demos

PAUSE = timedelta(seconds=30)
"""Between two learnings of a log whose files are still being read."""

MOST_ATTEMPTS = 3
"""Times that a job is tried before it is called failed, with a reason that a person can read."""


def stale(athlete: Athlete, source: str | None = None) -> OwnedQuerySet[Part]:
    """Parts whose estimate is not that of their inputs, of the fit and of the method in force.

    Parameters
    ----------
    athlete : Athlete
        Whose parts.
    source : str, optional
        Fit to judge by; by default the one that the pages show.
    """
    current = LoadEstimate.objects.filter(
        part=OuterRef("pk"),
        measure=Measure.TRIMP,
        source=athlete.current_source if source is None else source,
        input_revision=OuterRef("input_revision"),
        method_version=METHOD_VERSION,
    )
    return Part.objects.of(athlete).filter(~Exists(current))


def undigested(athlete: Athlete) -> OwnedQuerySet[Part]:
    """Parts whose recordings have not been digested since the part last changed."""
    digested = PartEvidence.objects.filter(
        Q(failure="") | Q(attempts__gte=MOST_ATTEMPTS),
        part=OuterRef("pk"),
        input_revision=OuterRef("input_revision"),
        method_version=METHOD_VERSION,
    )
    return Part.objects.of(athlete).filter(~Exists(digested))


def is_learned(athlete: Athlete) -> bool:
    """Whether the log has been learned as it now stands: a wake-up too many ends here."""
    return LearningState.objects.filter(
        owner=athlete, learned_revision=athlete.log_revision, learned_method=METHOD_VERSION
    ).exists()


def had_better_wait(athlete: Athlete) -> bool:
    """Whether files of the log are being read, each of which would undo what was just learned."""
    just_learned = LearningState.objects.filter(owner=athlete, finished_at__gt=timezone.now() - PAUSE)
    return just_learned.exists() and Recording.objects.of(athlete).filter(state="received").exists()


def unlearned() -> QuerySet[Athlete]:
    """Logs that have changed since they were last learned from, with attempts left and nobody at it."""
    done = LearningState.objects.filter(
        owner=OuterRef("pk"), learned_revision=OuterRef("log_revision"), learned_method=METHOD_VERSION
    )
    hopeless = LearningState.objects.filter(owner=OuterRef("pk"), attempts__gte=MOST_ATTEMPTS)
    taken = LearningState.objects.filter(~unclaimed(), owner=OuterRef("pk"))
    changed = Athlete.objects.filter(~Exists(done), ~Exists(hopeless), ~Exists(taken), log_revision__gt=0)
    return changed.exclude(pk__in=unfinished_demos())
