"""A person's own copy of the invented demo: a log apart, of a user who cannot sign in."""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import timedelta
from functools import partial

from django.contrib.auth.models import User
from django.core.exceptions import ObjectDoesNotExist
from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils import timezone

from trainlog import originals
from trainlog.models import Athlete, Recording
from trainlog.services.athletes import open_log
from trainlog.services.delete_log import Proof, delete_log
from trainlog.services.log_changed import log_changed
from trainlog.services.wake import wake

DEMO_TASK = "trainlog.tasks.make_demo"

NAME = "demo/{}"
"""Name of a demo's user, by the person's key: a slash is in no name that can be signed in with."""

ABOUT_FILES = 140
"""Files of the demo, to tell how far it is; the scenario of another day has a few more or fewer."""

TIME_LIMIT = 15.0
"""Seconds after which the making pauses, to go on in a further task."""

GIVEN_UP_AFTER = timedelta(hours=1)
"""For how long the sweep has an unfinished demo gone on with."""


@dataclass(frozen=True)
class DemoState:
    """How far a demo is."""

    read: int
    files: int
    ready: bool


def demo_of(user: User) -> Athlete | None:
    """Demo that was made for a person, finished or not."""
    return Athlete.objects.select_related("user").filter(demo_for=user).first()


def ask_for_demo(user: User) -> Athlete:
    """Demo of a person; if there is none, one is opened and a worker fills it."""
    # Only who asks for the demo needs it loaded.
    from fixtures.demo.scenario import AthleteFacts  # noqa: PLC0415

    facts = AthleteFacts(from_day=timezone.now().date())
    with transaction.atomic():
        # One at a time: two clicks must not make two.
        User.objects.select_for_update().get(pk=user.pk)
        known = demo_of(user)
        if known is not None:
            return known
        nobody = User(username=NAME.format(user.pk), is_active=False)
        nobody.set_unusable_password()
        nobody.save()
        demo = open_log(nobody, time_zone=facts.time_zone, seed=facts.seed)
        demo.demo_for = user
        demo.save(update_fields=["demo_for"])
        transaction.on_commit(partial(wake, DEMO_TASK, demo.pk))
    return demo


def is_ready(demo: Athlete) -> bool:
    """Whether all of a demo is in its log: its user, who never signs in, then has a last sign-in noted."""
    return demo.user.last_login is not None


def state_of(demo: Athlete) -> DemoState:
    """How far a demo is."""
    read = Recording.objects.of(demo).filter(state=Recording.State.READ).count()
    return DemoState(read=read, files=max(ABOUT_FILES, read), ready=is_ready(demo))


def go_on_making(athlete_id: int, *, seconds: float = TIME_LIMIT) -> bool:
    """Put into a demo's log what is not in it yet.

    Parameters
    ----------
    athlete_id : int
        Key of the demo's athlete; nothing happens if it was removed, or is no demo.
    seconds : float
        Time after which to pause.

    Returns
    -------
    bool
        True if nothing is left to do; False if it should be called again.
    """
    from fixtures.demo.scenario import scenario  # noqa: PLC0415
    from trainlog.services.demo_scenario import load_scenario  # noqa: PLC0415

    deadline = time.monotonic() + seconds
    demo = Athlete.objects.select_related("user").filter(pk=athlete_id, demo_for__isnull=False).first()
    if demo is None or is_ready(demo):
        return True
    # The day on which it was asked for decides its days, so that every piece is of the same scenario.
    last_day = demo.user.date_joined.date() - timedelta(days=1)
    try:
        for _ in load_scenario(demo, scenario(last_day)):
            if time.monotonic() > deadline:
                return False
    except (IntegrityError, ObjectDoesNotExist):
        if Athlete.objects.filter(pk=athlete_id).exists():
            raise
        # Removed meanwhile; what was kept after its folder went goes too.
        originals.forget_all(athlete_id)
        return True
    with transaction.atomic():
        User.objects.filter(pk=demo.user_id).update(last_login=timezone.now())
        log_changed(demo)
    return True


def unfinished_demos() -> QuerySet[Athlete]:
    """Demos of which not all is there yet; to learn from a part of one is work for nothing."""
    return Athlete.objects.filter(demo_for__isnull=False, user__last_login=None)


def demos_to_go_on_with() -> QuerySet[Athlete]:
    """Demos that are not finished and whose worker may have been lost."""
    return unfinished_demos().filter(user__date_joined__gt=timezone.now() - GIVEN_UP_AFTER)


def remove_demo(user: User) -> Proof | None:
    """Delete a person's demo with its rows and originals; None if there is none."""
    demo = demo_of(user)
    return None if demo is None else delete_log(demo)
