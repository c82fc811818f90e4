"""Evidence reports for programs; the log's API mounts this router by its name."""

from datetime import date, datetime
from typing import Annotated, Literal, Self

from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from ninja import Field, Query, Router, Schema
from ninja.pagination import paginate
from ninja.responses import Status

from accuracy.models import Report, ReportFile
from accuracy.report.download import as_download
from accuracy.services.reports import ask_for_report, delete_report, reports_of
from trainlog.api.document import MEDIA_TYPES
from trainlog.api.pages import LinkedPages
from trainlog.api.schemas import Problem, SensibleDay, SignedInRequest
from trainlog.models import Athlete, Sensor

PROBLEMS = frozenset({401, 403, 404, 422})

router = Router()


class AskedReport(Schema):
    """What a report is to be about."""

    sensors: list[str] = Field(description="Names of tested sensors with at least one pair.", min_length=1)
    anonymised: bool = Field(True, description="Leave out names, days and places.")
    first_day: SensibleDay | None = Field(None, description="First local day; left out, all before count.")
    last_day: SensibleDay | None = Field(None, description="Last local day, included.")


class ReportAnswer(Schema):
    """A report, and the files that it has been made into."""

    id: int
    sensors: list[str]
    anonymised: bool
    first_day: date | None
    last_day: date | None
    state: str = Field(description="waiting, made or failed.")
    failure: str = Field(description="Why it could not be made; empty unless it failed.")
    asked_at: datetime
    made_at: datetime | None
    bytes_by_kind: dict[str, int] = Field(description="Size of each file; kinds are html, pdf and zip.")

    @classmethod
    def of(cls, report: Report) -> Self:
        """State of a report."""
        return cls(
            id=report.pk,
            sensors=[sensor.name for sensor in report.sensors.all()],
            anonymised=report.anonymised,
            first_day=report.first_day,
            last_day=report.last_day,
            state=report.state,
            failure=report.failure,
            asked_at=report.asked_at,
            made_at=report.made_at,
            bytes_by_kind={file.kind: file.byte_count for file in report.files.all()},
        )


@router.get("/reports", response={200: list[ReportAnswer], frozenset({401, 422}): Problem})
@paginate(LinkedPages, place_of=lambda answer: (answer.asked_at, answer.id), newest_first=True)
def reports(request: SignedInRequest) -> list[ReportAnswer]:
    """List the reports, the newest first."""
    return [ReportAnswer.of(report) for report in reports_of(request.auth)]


@router.post("/reports", response={202: ReportAnswer, PROBLEMS: Problem})
def ask(request: SignedInRequest, asked: AskedReport) -> Status:
    """Ask for a report; it is made after the answer, so ask for its state until it is no longer "waiting"."""
    report = ask_for_report(
        request.auth,
        _named(request.auth, asked.sensors),
        anonymised=asked.anonymised,
        first_day=asked.first_day,
        last_day=asked.last_day,
    )
    return Status(202, ReportAnswer.of(report))


@router.get("/reports/{id}", response={200: ReportAnswer, PROBLEMS: Problem})
def report(request: SignedInRequest, id: int) -> ReportAnswer:
    """Show the state of one report."""
    return ReportAnswer.of(_report(request, id))


@router.get(
    "/reports/{id}/file",
    response={200: bytes, PROBLEMS: Problem},
    openapi_extra={MEDIA_TYPES: ["application/pdf", "text/html", "application/zip"]},
)
def report_file(
    request: SignedInRequest, id: int, form: Annotated[Literal["html", "pdf", "zip"], Query()] = "pdf"
) -> HttpResponse:
    """Hand out one form of a report that is made."""
    files = ReportFile.objects.of(request.auth).filter(report__state=Report.State.MADE)
    return as_download(get_object_or_404(files, report=id, kind=form))


@router.delete("/reports/{id}", response={204: None, PROBLEMS: Problem})
def delete(request: SignedInRequest, id: int) -> Status:
    """Delete a report with its files; it can be made again."""
    delete_report(_report(request, id))
    return Status(204, None)


def _report(request: SignedInRequest, report_id: int) -> Report:
    return get_object_or_404(Report.objects.of(request.auth), pk=report_id)


def _named(athlete: Athlete, names: list[str]) -> list[Sensor]:
    """Sensors by their names.

    Raises
    ------
    ValidationError
        If there is none of that name.
    """
    known = {sensor.name: sensor for sensor in Sensor.objects.of(athlete)}
    unknown = [name for name in names if name not in known]
    if unknown:
        raise ValidationError(f"There is no sensor called {', '.join(unknown)} in your log.")
    return [known[name] for name in dict.fromkeys(names)]
