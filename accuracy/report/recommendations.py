"""What published recommendations ask to be reported, what is given here, and what this test lacks."""

from __future__ import annotations

from collections.abc import Sequence

from accuracy.core.agreement.pooled import PooledAgreement
from accuracy.core.agreement.study_summary import Protocol, SummaryItem, study_summary
from accuracy.report.document import Column, Section, Table
from accuracy.report.evidence import SensorEvidence, enough
from accuracy.report.sentences import listed
from accuracy.services.pooled_agreement import SHOWN_EPOCH

LACKS = (
    "Other people: one person, of whom neither age nor sex nor skin tone is known, is no sample of people.",
    "Set tasks: the recommendations ask for set intensities in a laboratory, for transitions between them "
    "and for daily activities; here the person chose the work, and the days on which to wear both sensors.",
    "An electrocardiogram: the reference is a chest strap, whose own error is counted as the tested "
    "sensor's.",
    "Control of how the sensors were worn: tightness, place on the limb, skin, hair, temperature and sweat "
    "were not noted.",
    "A plan made beforehand: what is reported, over which sessions and how many of them, was not fixed "
    "before the data were there.",
)
"""True of every report that this program makes."""

ALL = "all sessions"

OVER_SESSIONS = {"SD of differences", "lower limit of agreement", "upper limit of agreement"}
"""Items that rest on how sessions differ."""


def recommendations(evidence: SensorEvidence) -> Section:
    """Section that holds the test against published recommendations."""
    by_activity = _by_activity(evidence)
    lines = [line for line in study_summary(by_activity, _protocol(evidence)) if not line.activity]
    pooled = evidence.pooled()
    if pooled is not None:
        overall = study_summary({ALL: pooled}, _protocol(evidence))
        lines += [line for line in overall if line.activity and _may_be_given(line, len(evidence.sessions))]
    given = sum(line.given for line in lines)
    return Section(
        "What published recommendations ask, and what this test lacks",
        (
            "INTERLIVE's recommendations for tests of wearable heart-rate sensors and CTA-2065 ask for the "
            f"items below. {given} of {len(lines)} lines are filled; the others are not known or were not "
            "done. Filled means reported, not fulfilled: this is no study by either.",
            "This test lacks:",
            *LACKS,
        ),
        (_table(evidence, "recommendations", "What is asked for, and what there is", lines),),
    )


def recommendations_by_activity(evidence: SensorEvidence) -> Table:
    """What is asked for of each activity by itself, for the archive."""
    by_activity = _by_activity(evidence)
    lines = [
        line
        for line in study_summary(by_activity, _protocol(evidence))
        if line.activity and _may_be_given(line, by_activity[line.activity].sessions)
    ]
    return _table(evidence, "recommendations_by_activity", "What is asked for, by kind of work", lines)


def _may_be_given(line: SummaryItem, sessions: int) -> bool:
    """Limits and spread are left out where there are too few sessions to tell how they differ."""
    return enough(sessions) or line.item not in OVER_SESSIONS


def _by_activity(evidence: SensorEvidence) -> dict[str, PooledAgreement]:
    return {
        activity: pooled
        for activity in evidence.activities
        if (pooled := evidence.pooled_on(activity)) is not None
    }


def _protocol(evidence: SensorEvidence) -> Protocol:
    references = evidence.references
    return Protocol(
        reference=f"{listed(references)} (electrical)" if references else None,
        reference_placement="chest" if references else None,
        tested_placement=evidence.sensor.get_site_display(),
    )


def _table(evidence: SensorEvidence, name: str, caption: str, lines: Sequence[SummaryItem]) -> Table:
    return Table(
        evidence.file(name),
        caption,
        (
            Column("asked for", "item"),
            Column("by", "asked_by"),
            Column("for", "activity"),
            Column("here", "value"),
            Column("given", "given"),
        ),
        tuple(
            (
                line.item,
                line.asked_by.partition(" (")[0],
                line.activity or None,
                line.value,
                "yes" if line.given else "no",
            )
            for line in lines
        ),
        f"Means of {SHOWN_EPOCH} s. CTA-2065 was not read itself but as journal articles quote it.",
    )
