"""Handing out a form of a report, for pages and operations alike."""

from __future__ import annotations

from django.http import HttpResponse

from accuracy.models import ReportFile

MEDIA_TYPES = {
    ReportFile.Kind.HTML.value: "text/html; charset=utf-8",
    ReportFile.Kind.PDF.value: "application/pdf",
    ReportFile.Kind.ZIP.value: "application/zip",
}


def as_download(file: ReportFile) -> HttpResponse:
    """Answer that hands out a form of a report.

    Always to be kept and never shown by the site: the page's own style stands within it, which the site's
    policy refuses, and that policy stays as strict here as anywhere.
    """
    return HttpResponse(
        bytes(file.content),
        content_type=MEDIA_TYPES[file.kind],
        headers={"Content-Disposition": f'attachment; filename="report-{file.report_id}.{file.kind}"'},
    )
