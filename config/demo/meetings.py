"""What the invented hospitals' quality meetings decided, and a pack for the next one."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial

from analytics.models import MeetingDecision
from analytics.selectors.findings import Figures, finding
from analytics.services import meetings, packs, snapshots
from config.demo.staff import Staff


@dataclass(frozen=True)
class Decided:
    """One invented decision: who by user name, due so many days after, and what became of it."""

    words: str
    owner: str = ""
    due_days: int = 0
    figure: str = ""
    became: str = ""
    said: str = ""


# So many days ago, how many came, the notes, and what was decided.
MEETINGS: tuple[tuple[int, int, str, tuple[Decided, ...]], ...] = (
    (
        187,
        9,
        "First look at two years of operations. Long talk about who is missing.",
        (
            Decided(
                "Ask for both shoulders on every film, so that ratios can be judged.",
                "surgeon",
                60,
                "/outcomes/?definition=ratio-25",
                "done",
                "On the film request since then.",
            ),
            Decided("Rates are read with the share that could not be judged, or not at all."),
            Decided(
                "Offer evening slots at Tarnbridge.",
                "coordinator",
                90,
                "/outcomes/?by=site",
                "dropped",
                "No staff for it this year.",
            ),
        ),
    ),
    (
        96,
        7,
        "Hook plates: three removals came late.",
        (
            Decided(
                "Book the removal of a hook plate at the six-week review.",
                "coordinator",
                45,
                "/harms/",
                "done",
                "Part of the clinic's list now.",
            ),
            Decided(
                "Look at the films of those who lost their reduction after suspensory fixation.",
                "surgeon",
                80,
                "/outcomes/?by=construct_type",
            ),
            Decided("Call those without a film at one year.", "coordinator", 140, "/outcomes/"),
        ),
    ),
)


def hold(staff: Staff, *, now: datetime, today: date) -> None:
    """Record the meetings of all sites together, and ask for a pack for the next one."""
    by = staff.people["quality"]
    for ago, attended, notes, decided in MEETINGS:
        on = today - timedelta(days=ago)
        meeting = meetings.record_meeting(
            sites=staff.sites,
            held_on=on,
            attended=attended,
            notes=notes,
            by=by,
            now=now,
            today=today,
        )
        then = snapshots.as_of(now=now, cutoff=on)
        figures = Figures(then, partial(snapshots.frames_of, then))
        for one in decided:
            decision = meetings.decide(
                meeting=meeting,
                words=one.words,
                owner=staff.people[one.owner] if one.owner else None,
                due_on=on + timedelta(days=one.due_days) if one.owner else None,
                figure=one.figure,
                by=by,
                today=on,
                finding=finding(one.figure, staff.sites, figures),
            )
            _became(decision, one, staff, on)
    packs.ask(sites=staff.sites, address="", for_outside=False, by=by, now=now)


def _became(decision: MeetingDecision, one: Decided, staff: Staff, on: date) -> None:
    if one.became:
        meetings.follow_up(
            decision=decision,
            kind=one.became,
            words=one.said,
            expected_version=decision.version,
            by=staff.people["quality"],
            today=on + timedelta(days=one.due_days - 10),
        )
