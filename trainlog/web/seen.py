"""No lost update: a form says what it was made of, and what changed since is not overwritten unawares.

A form that edits something carries ``seen``, a digest of the values that it was shown with. When it comes
back, the same values are read once more, while nobody else can change the log. If they are others by now, and
what was sent would replace them, the form comes back with what is there now beside what was typed, and with a
new ``seen``: sending it once more is the choice of what was typed. The same values sent twice are no
conflict, and a program that sends no ``seen`` is taken at its word.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import Http404, HttpRequest
from django.http.response import HttpResponseBase

from trainlog.models import Athlete
from trainlog.services.log_changed import hold_log
from trainlog.web.page import CONFLICT, UNPROCESSABLE, athlete_of

SEEN = "seen"

CHANGED = (
    "This was changed after you opened it, and nothing of yours is saved yet. What you typed stands here, "
    "with what is there now beside it. Save once more to put yours in its place."
)


def digest_of(values: Mapping[str, Any]) -> str:
    """Short digest of values as they are kept, the same in every process."""
    text = json.dumps(values, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def one_at_a_time(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """Hold the log while a form that says what was seen is compared with what is there, and saved."""

    @wraps(view)
    def held(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if request.method != "POST" or SEEN not in request.POST:
            return view(request, *args, **kwargs)
        with transaction.atomic():
            try:
                hold_log(athlete_of(request))
            except Athlete.DoesNotExist as gone:
                raise Http404("this log was deleted meanwhile") from gone
            return view(request, *args, **kwargs)

    return held


class SeenMixin(forms.BaseForm):
    """A form that edits what is there already, and knows its values as its initial ones."""

    not_there: tuple[str, ...] = ()
    """Fields that stand for nothing that is kept: which day is meant, a file."""

    conflict = False

    def there_now(self) -> dict[str, Any]:
        """Values that are kept now, as the fields show them."""
        return {
            name: field.prepare_value(self.get_initial_for_field(field, name))
            for name, field in self.fields.items()
            if name not in self.not_there
        }

    @property
    def seen(self) -> str:
        """What the form carries: the digest of what is there now."""
        return digest_of(self.there_now())

    @property
    def status(self) -> int:
        """Status of a page that shows this form once more."""
        return CONFLICT if self.conflict else UNPROCESSABLE if self.is_bound else 200

    def both_in_words(self, name: str) -> str:
        """Both values of a field in words, for a page that shows the one that is there."""
        typed = self._in_words(name, self.data.get(name))
        now = self._in_words(name, self.there_now()[name])
        return (
            f"changed after you opened the page. You chose {typed}, now it is {now}. "
            "Choose once more if you mean it."
        )

    def full_clean(self) -> None:
        """Also hold what was seen against what is there."""
        super().full_clean()
        if not self.is_bound or self.data.get(SEEN) in {None, self.seen}:
            return
        replaced = self.replaced()
        if not replaced:
            return
        self.conflict = True
        self.add_error(None, ValidationError(CHANGED, code="changed"))
        for name, value in replaced.items():
            self.add_error(name, ValidationError(f"Now it is {self._in_words(name, value)}.", code="changed"))

    def replaced(self) -> dict[str, Any]:
        """What is there now and would be something else if the form were saved."""
        return {name: value for name, value in self.there_now().items() if self._replaces(name, value)}

    def _replaces(self, name: str, value: Any) -> bool:
        if name in self.errors:
            return True
        try:
            return bool(self.fields[name].clean(value) != self.cleaned_data.get(name))
        except ValidationError:
            # What is there could not be typed today, so what was typed is something else.
            return True

    def _in_words(self, name: str, value: Any) -> str:
        if value is True or value is False:
            return "ticked" if value else "not ticked"
        if value is None or value == "":
            return "empty"
        for choice, label in getattr(self.fields[name], "choices", ()):
            if str(choice) == str(value):
                return f"“{label}”"
        return f"“{value}”"


def seen_then(request: HttpRequest, values: Mapping[str, Any]) -> bool:
    """Whether nothing changed since a page without a form of fields was opened, or it did not say."""
    return request.POST.get(SEEN) in {None, digest_of(values)}
