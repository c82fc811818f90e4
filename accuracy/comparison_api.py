"""Tested sensors held against one another, for programs; ``accuracy.api`` mounts this router."""

from typing import Annotated, Any, Literal

from django.core.exceptions import ValidationError
from ninja import Field, Query, Router, Schema

from accuracy.services import sensor_comparison
from accuracy.services.comparison_export import comparison_figures
from accuracy.services.sensor_comparison import Way, Wish, compare
from trainlog.api.schemas import Problem, SensibleDay, SignedInRequest
from trainlog.models import Athlete

router = Router()


class ComparisonQuestion(Schema):
    """What is compared; what is left out goes by what the log holds."""

    sensor: list[str] = Field(
        [], description="Names of tested sensors, two or more; all that have pairs if left out."
    )
    reference: str | None = Field(
        None, description="Name of the reference; the one with most pairs if left out."
    )
    activity: list[str] = Field([], description="Slugs of activities; all if left out.")
    first: SensibleDay | None = Field(None, alias="from", description="First local day.")
    last: SensibleDay | None = Field(None, alias="to", description="Last local day.")
    sessions: Literal["same", "matched"] | None = Field(
        None,
        description="same: both were worn in them; matched: alike in activity, intensity and length. If left "
        "out: same where there are three.",
    )

    def wish(self, athlete: Athlete) -> Wish:
        """What is wanted of this athlete's log.

        Raises
        ------
        ValidationError
            If it names what the log has no usable pair of, a single sensor, or days in the wrong order.
        """
        if self.first and self.last and self.first > self.last:
            raise ValidationError("“from” must not be after “to”.")
        if len(set(self.sensor)) == 1:
            raise ValidationError("Name two tested sensors or more, or none for all of them.")
        tested = {row.name: row for row in sensor_comparison.sensors_with_pairs(athlete)}
        straps = {row.name: row for row in sensor_comparison.references(athlete)}
        kinds = {row.slug: row for row in sensor_comparison.activities(athlete)}
        return Wish(
            sensors=_named(self.sensor, tested),
            reference=_named([self.reference], straps)[0] if self.reference else None,
            activities=_named(self.activity, kinds),
            first=self.first,
            last=self.last,
            way=Way(self.sessions) if self.sessions else None,
        )


class ComparisonAnswer(Schema):
    """Two sensors at a time, with 95% intervals over sessions."""

    reference: str | None
    sensors: list[str]
    sessions: str = Field(description="same or matched.")
    sample: str
    difference: str
    units: dict[str, str] = Field(description="Unit of every figure, by its name.")
    matched_within: dict[str, float] = Field(description="Bounds of matched sessions.")
    adjusted: dict[str, str | int] = Field(description="Which p values are adjusted, and for how many.")
    compared: list[dict[str, Any]] = Field(
        description="Each two sensors: figures of the whole and by activity (mean of each, difference, 95% "
        "interval, p of the t test and of turning signs; null with fewer than three sessions), the ratio "
        "of variances of the bias, every session, and sessions left out."
    )


@router.get("/sensor-comparison", response={200: ComparisonAnswer, frozenset({401, 422}): Problem})
def sensor_comparison_of(
    request: SignedInRequest, question: Annotated[ComparisonQuestion, Query()]
) -> dict[str, Any]:
    """Compare tested sensors over sessions that they share, or over matched ones."""
    return comparison_figures(compare(request.auth, question.wish(request.auth)))


def _named(names: list[str], rows: dict[str, Any]) -> list[Any]:
    unknown = [name for name in dict.fromkeys(names) if name not in rows]
    if unknown:
        raise ValidationError(f"No usable pair is of “{unknown[0]}”.")
    return [rows[name] for name in dict.fromkeys(names)]
