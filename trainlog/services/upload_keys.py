"""Requests that a program may send again without having them done twice, by the key it gives them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone

from trainlog.models import Athlete, UploadKey
from trainlog.models.upload_key import KEPT_FOR

GIVEN_UP_AFTER = timedelta(minutes=10)
"""A request that has no answer by then died on its way: its key may be taken over."""


class KeyOfAnother(Exception):
    """The key was given to another request before."""


class UnderWay(Exception):
    """The request with this key is being carried out."""


@dataclass(frozen=True)
class Answer:
    """What a request was answered."""

    status: int
    content: str


def take_key(athlete: Athlete, key: str, sha256: str) -> UploadKey | Answer:
    """Take a key for a request, or find the answer that the same request had.

    Parameters
    ----------
    athlete : Athlete
        Whose log the request is about; keys of different logs do not meet.
    key : str
        Chosen by the program.
    sha256 : str
        Of the request: its address and its body.

    Raises
    ------
    KeyOfAnother
        If the key was given to another request, a day ago at most.
    UnderWay
        If the same request is being carried out.
    """
    now = timezone.now()
    UploadKey.objects.of(athlete).filter(key=key, asked_at__lte=now - KEPT_FOR).delete()
    try:
        with transaction.atomic():
            return UploadKey.objects.create(owner=athlete, key=key, sha256=sha256, asked_at=now)
    except IntegrityError:
        kept = UploadKey.objects.of(athlete).filter(key=key).first()
    if kept is None:
        raise UnderWay  # freed between the two lines; whoever asks again may take it
    if kept.sha256 != sha256:
        raise KeyOfAnother
    if kept.status is not None:
        return Answer(kept.status, kept.answer)
    # Of several that come after a request died, one takes its key over.
    dead = UploadKey.objects.filter(pk=kept.pk, status=None, asked_at__lte=now - GIVEN_UP_AFTER)
    if not dead.update(asked_at=now):
        raise UnderWay
    return kept


def keep_answer(row: UploadKey, answer: Answer) -> None:
    """Remember what a request was answered."""
    UploadKey.objects.filter(pk=row.pk).update(status=answer.status, answer=answer.content)


def free_key(row: UploadKey) -> None:
    """Forget a request that changed nothing, so that it can be tried again under its key."""
    UploadKey.objects.filter(pk=row.pk, status=None).delete()


def forget_old_keys() -> None:
    """Drop the keys of every log that are older than a day."""
    UploadKey.objects.filter(asked_at__lte=timezone.now() - KEPT_FOR).delete()
