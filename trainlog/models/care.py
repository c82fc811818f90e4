"""What the athlete ticks in private of what breaks loads that rest on heart rate."""

from __future__ import annotations

from django.db import models

from trainlog.models.owned import Owned


class Care(Owned):
    """One row an athlete: ticks that change the wording and switch off advice that rests on heart rate.

    They are shown to the athlete alone, name no disease and are never worked with in a formula.
    """

    slowing_medicine = models.BooleanField(
        "a medicine that slows the heart", default=False, help_text="Such as a beta blocker."
    )
    quickening_medicine = models.BooleanField(
        "a medicine that quickens the heart", default=False, help_text="Such as some for asthma or a cold."
    )
    pacemaker = models.BooleanField("a pacemaker or an implanted defibrillator", default=False)
    irregular_rhythm = models.BooleanField("an irregular heart rhythm", default=False)
    heart_condition = models.BooleanField("another heart condition", default=False)
    pregnancy = models.BooleanField("pregnancy", default=False)
    illness = models.BooleanField("an illness with fever at present", default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["owner"], name="one_care_an_athlete")]

    def __str__(self) -> str:
        return "what to mind"

    @classmethod
    def ticks(cls) -> list[str]:
        """Names of the fields that can be ticked."""
        return [field.name for field in cls._meta.fields if isinstance(field, models.BooleanField)]

    @property
    def ticked(self) -> list[str]:
        """What is ticked, in words."""
        return [str(field.verbose_name) for field in self._meta.fields if self._is_ticked(field)]

    def _is_ticked(self, field: models.Field) -> bool:
        return isinstance(field, models.BooleanField) and bool(getattr(self, field.name))

    @property
    def any(self) -> bool:
        """Whether anything is ticked."""
        return bool(self.ticked)

    @property
    def medicine(self) -> bool:
        """Whether a medicine changes heart rate: a change of it moves every load that rests on it."""
        return self.slowing_medicine or self.quickening_medicine

    @property
    def mornings_say_little(self) -> bool:
        """Whether resting rate and rMSSD follow something else than rest, so no usual band is spoken of."""
        return self.medicine or self.pacemaker or self.irregular_rhythm
