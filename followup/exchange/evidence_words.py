"""What the pages about a safety notice say, from its rows."""

from collections.abc import Sequence
from datetime import date, datetime

from followup.exchange.evidence_pages import EvidencePages, Grid
from followup.selectors.carriers import CarrierLine
from registry.models.safety_notices import SafetyNotice
from registry.selectors.reconciliation import OF_CARRIERS, SiteSums, Total

CAUTION = "The notice's own text and local policy decide what is done; this keeps count."
PERHAPS = ("Near, undecided", "Not excluded, undecided", "Decided: none", "Left to do")
STEPS = ("Patient", "Operated", "Why", "State", "Steps: day, what, note, who, written when")


def pages_of(
    *,
    notice: SafetyNotice,
    about: Sequence[str],
    sums: Sequence[SiteSums],
    total: Total,
    lines: Sequence[CarrierLine],
    more: bool,
    who: str,
    now: datetime,
) -> EvidencePages:
    """Return the pages of a notice; `more` says that not everybody stands on them."""
    agrees = (
        f"{total.carriers} carry it, and what became of them adds up to {total.accounted}: "
        f"the difference is {total.difference}. Who may carry it is counted apart."
    )
    rest = " There are more people than these pages hold; the table has all." if more else ""
    return EvidencePages(
        title=f"{notice.reference}: what was done about it",
        head=[
            notice.title,
            (
                f"{notice.get_kind_display()}, issued on {_day(notice.issued_on)}, received on "
                f"{_day(notice.received_on)}, to be done by {_day(notice.due_on)}; {notice.owner}"
            ),
            CAUTION,
        ],
        about=about,
        advice=notice.advice,
        sums=Grid(
            ["Site", "Carry it", *(state.label for state in OF_CARRIERS), *PERHAPS, "Closed"],
            [_site(one) for one in sums],
        ),
        agrees=agrees + rest,
        steps=Grid(STEPS, [_carrier(line) for line in lines]),
        foot=f"Printed on {_day(now.date())} at {now:%H:%M} by {who}",
    )


def _day(on: date) -> str:
    return f"{on.day} {on:%b %Y}"


def _site(one: SiteSums) -> list[str]:
    numbers = [one.carriers, *one.columns, one.near, one.not_excluded, one.not_one, one.left]
    closed = one.closing
    told = f"{_day(closed.closed_on)}, {closed.recorded_by}" if closed else "open"
    return [str(one.site), *(str(number) for number in numbers), told]


def _carrier(line: CarrierLine) -> list[str]:
    row = line.carrier
    who = f"{line.name}, {line.patient.key}" if line.name else line.patient.key
    steps = [
        f"{_day(step.on)}: {step.get_kind_display().lower()}"
        f"{f', {step.note}' if step.note and step.kind != 'found' else ''} "
        f"({step.by}, {_day(step.at.date())} {step.at:%H:%M})"
        for step in line.steps
    ]
    return [
        who,
        f"{_day(row.procedure.performed_on)}, {line.side}, {row.site}",
        f"{row.get_sureness_display()}: {row.because}",
        row.get_state_display(),
        "; ".join(steps),
    ]
