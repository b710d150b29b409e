"""Writing down what a quality meeting decided, and what becomes of it."""

from collections.abc import Collection, Mapping
from datetime import date, datetime
from typing import Any

from analytics.models.meetings import (
    DecisionState,
    DecisionStep,
    Meeting,
    MeetingDecision,
    MeetingSite,
    StepKind,
)
from analytics.models.snapshots import Snapshot
from analytics.rules import figure_addresses
from analytics.selectors.findings import Finding
from analytics.services import snapshots
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records

# From which state an action may come to which.
LEGAL = {
    StepKind.CHANGED: (DecisionState.OPEN, DecisionState.OPEN),
    StepKind.DONE: (DecisionState.OPEN, DecisionState.DONE),
    StepKind.DROPPED: (DecisionState.OPEN, DecisionState.DROPPED),
    StepKind.REOPENED: (None, DecisionState.OPEN),
}
CLOSED = (DecisionState.DONE, DecisionState.DROPPED)
WORDS = {
    StepKind.CHANGED: "Say why somebody else does it, or why it is due on another day.",
    StepKind.DONE: "Say what was done.",
    StepKind.DROPPED: "Say why it was dropped.",
    StepKind.REOPENED: "Say why it is open again.",
}


def record_meeting(
    *,
    sites: Collection[Site],
    held_on: date,
    attended: int,
    notes: str,
    by: Person,
    now: datetime,
    today: date,
) -> Meeting:
    """Record a meeting of some sites.

    Raises BadInput without a site, for a day to come, and when nobody came.
    """
    if not sites:
        raise BadInput({"sites": "Say of which sites the meeting was."})
    _check(held_on, attended, today)
    with records.change(by=by):
        meeting = Meeting.objects.create(
            held_on=held_on,
            attended=attended,
            notes=notes.strip(),
            recorded_at=now,
            recorded_by=by,
        )
        MeetingSite.objects.bulk_create(MeetingSite(meeting=meeting, site=site) for site in sites)
    return meeting


def correct_meeting(
    *, meeting: Meeting, values: Mapping[str, Any], expected_version: int, by: Person, today: date
) -> Meeting:
    """Correct the day, the count or the notes of a meeting.

    Raises BadInput as `record_meeting` does, StaleVersion when somebody was quicker.
    """
    _check(values["held_on"], values["attended"], today)
    kept = {name: values[name] for name in ("held_on", "attended", "notes")}
    with records.change(by=by, reason="meeting corrected"):
        _over_version(meeting, kept, expected_version)
    return meeting


def decide(
    *,
    meeting: Meeting,
    words: str,
    owner: Person | None,
    due_on: date | None,
    figure: str,
    by: Person,
    today: date,
    finding: Finding | None = None,
) -> MeetingDecision:
    """Write down a decision of a meeting; with an owner and a day it is an action.

    `finding` is what the figure says as it is taken. Raises BadInput when only one of the two is given, when the day is before the meeting, or when
    `figure` is no address of the figures of this service.
    """
    faults = _faults(meeting, words, owner, due_on)
    if figure and not figure_addresses.is_figure(figure):
        faults["figure"] = "This is no address of a figure here; copy it from the figure's page."
    if faults:
        raise BadInput(faults)
    state = DecisionState.OPEN if owner else DecisionState.STANDS
    with records.change(by=by):
        decision = MeetingDecision.objects.create(
            meeting=meeting,
            words=words.strip(),
            owner=owner,
            due_on=due_on,
            state=state,
            figure=figure_addresses.shortened(figure),
            **_said(finding),
        )
        _step(decision, StepKind.TAKEN, "", by, today)
        _hold(finding, decision)
    return decision


def follow_up(
    *,
    decision: MeetingDecision,
    kind: str,
    words: str,
    expected_version: int,
    by: Person,
    today: date,
    owner: Person | None = None,
    due_on: date | None = None,
) -> MeetingDecision:
    """Say what became of an action: done, dropped, open again, or another owner or day.

    `owner` and `due_on` replace what stood before where they are given. Raises BadInput without
    words, IllegalTransition when the action cannot come from its state to the wanted one, and
    StaleVersion.
    """
    wanted = StepKind(kind)
    _may_become(decision, wanted)
    if not words.strip():
        raise BadInput({"words": WORDS[wanted]})
    values = {
        "state": LEGAL[wanted][1],
        "owner": owner or decision.owner,
        "due_on": due_on or decision.due_on,
    }
    with records.change(by=by, reason=words):
        _over_version(decision, values, expected_version)
        _step(decision, wanted, words.strip()[:300], by, today)
    return decision


def _hold(finding: Finding | None, decision: MeetingDecision) -> None:
    """Keep the snapshot that a decision rests on, where it is one that is stored."""
    if finding is None:
        return
    kept = Snapshot.objects.defer("frames").filter(content_hash=finding.snapshot).first()
    if kept is not None:
        snapshots.keep(snapshot=kept, why=f"decision {decision.pk}")


def _said(finding: Finding | None) -> dict[str, Any]:
    if finding is None:
        return {}
    return {
        "figure_said": finding.words,
        "figure_definition": finding.definition,
        "figure_snapshot": finding.snapshot,
        "figure_cutoff": finding.cutoff,
    }


def _may_become(decision: MeetingDecision, kind: StepKind) -> None:
    before, after = LEGAL[kind]
    fits = decision.state == before if before else decision.state in CLOSED
    if not fits:
        raise IllegalTransition("The decision", present=decision.state, wanted=after)


def _faults(
    meeting: Meeting, words: str, owner: Person | None, due_on: date | None
) -> dict[str, str]:
    faults = {}
    if not words.strip():
        faults["words"] = "Say what was decided."
    if owner and due_on is None:
        faults["due_on"] = "Say by when; or leave the owner out where nobody has to act."
    if due_on and owner is None:
        faults["owner"] = "Say who does it; or leave the day out where nobody has to act."
    if due_on and due_on < meeting.held_on:
        faults["due_on"] = "This is before the meeting."
    return faults


def _check(held_on: date, attended: int, today: date) -> None:
    if held_on > today:
        raise BadInput({"held_on": "This day is still to come; record a meeting once it was held."})
    if attended < 1:
        raise BadInput({"attended": "Count at least whoever records it."})


def _step(decision: MeetingDecision, kind: StepKind, words: str, by: Person, today: date) -> None:
    DecisionStep.objects.create(
        decision=decision,
        kind=kind,
        on=today,
        by=by,
        words=words,
        owner=decision.owner,
        due_on=decision.due_on,
    )


def _over_version(
    row: "Meeting | MeetingDecision", values: Mapping[str, Any], expected_version: int
) -> None:
    model = type(row)
    standing = model.objects.filter(pk=row.pk, version=expected_version)
    if not standing.update(**values, version=expected_version + 1):
        current = model.objects.values_list("version", flat=True).get(pk=row.pk)
        what = "The meeting" if isinstance(row, Meeting) else "The decision"
        raise StaleVersion(what, expected=expected_version, current=current)
    row.refresh_from_db()
