"""Making a report: gather the evidence, draw it once, write every form, keep all or nothing."""

from __future__ import annotations

import logging

from accuracy.models import Report, ReportFile
from accuracy.report.archive import archive_of
from accuracy.report.document import Document
from accuracy.report.drawings import pictures_of
from accuracy.report.gather import gather
from accuracy.report.page import page_of
from accuracy.report.pdf import pdf_of
from accuracy.services.reports import claim_report, keep_report, nothing_to_report, set_aside

logger = logging.getLogger(__name__)

FILE_NAMES = {
    ReportFile.Kind.HTML.value: "report.html",
    ReportFile.Kind.PDF.value: "report.pdf",
    ReportFile.Kind.ZIP.value: "report.zip",
}
"""Name of each form as a file."""


def make_report(report_id: int) -> None:
    """Make a report that waits; safe to call at any time and as often as one likes.

    What is made is left as it is, and where another worker is at the same report this call leaves it to that
    one.
    """
    report = claim_report(report_id)
    if report is None:
        return
    sensors = list(report.sensors.all())
    reason = nothing_to_report(report.owner, sensors, report.first_day, report.last_day)
    if reason:
        set_aside(report, reason)
        return
    try:
        files = files_of(_gathered(report))
    except Exception:
        logger.exception("Making report %s failed", report.pk)
        set_aside(report)
        raise
    keep_report(report, files)


def files_of(document: Document) -> dict[str, bytes]:
    """Every form of a report, by its kind; the same report gives the same bytes."""
    pictures = pictures_of(document)
    page, pdf = page_of(document, pictures), pdf_of(document, pictures)
    return {
        ReportFile.Kind.HTML.value: page,
        ReportFile.Kind.PDF.value: pdf,
        ReportFile.Kind.ZIP.value: archive_of(document, pictures, page, pdf),
    }


def _gathered(report: Report) -> Document:
    return gather(
        report.owner,
        list(report.sensors.all()),
        anonymised=report.anonymised,
        first_day=report.first_day,
        last_day=report.last_day,
    )
