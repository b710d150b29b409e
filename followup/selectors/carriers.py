"""The lines of a safety notice: who may carry it, what was done, when they were last heard of."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from followup.selectors.last_contact import LastContact, last_contacts
from followup.selectors.trace import names_of
from registry.models.patients import Patient
from registry.models.safety_notices import CarrierStep, NoticeCarrier, SafetyNotice
from registry.selectors.reconciliation import carriers_seen, with_steps
from registry.selectors.visible import Viewer, site_ids

AT_ONCE = 2000
HEADER = (
    *("notice", "patient", "name", "site", "operated_on", "side", "construct", "sureness"),
    *("because", "state", "last_contact_on", "last_contact", "step", "step_on", "note"),
    *("written_at", "by"),
)


@dataclass(frozen=True)
class CarrierLine:
    """One carrier, in words."""

    carrier: Any
    patient: Patient
    name: str
    may_open: bool
    side: str
    construct: str
    last: LastContact | None
    steps: list[CarrierStep]

    @property
    def latest(self) -> CarrierStep | None:
        """Return the step that was taken last."""
        return self.steps[-1] if self.steps else None


def lines_of(user: Viewer, rows: Sequence[Any]) -> list[CarrierLine]:
    """Return the lines of some carriers that came with their operation and steps."""
    pairs = [(row.procedure.injury.patient_id, row.site_id) for row in rows]
    names = names_of(user, pairs)
    contacts = last_contacts({patient for patient, _ in pairs}, site_ids(user, "trace"))
    seen_at = set(site_ids(user, "see_patient"))
    return [_line(row, names, contacts, seen_at) for row in rows]


def _line(
    row: NoticeCarrier, names: dict[int, str], contacts: dict[int, LastContact], seen_at: set[int]
) -> CarrierLine:
    injury = row.procedure.injury
    named = row.site_id in seen_at
    return CarrierLine(
        carrier=row,
        patient=injury.patient,
        name=names.get(injury.patient_id, "") if named else "",
        may_open=named,
        side=injury.get_side_display().lower(),
        construct=str(getattr(row.procedure, "construct", "") or "not recorded"),
        last=contacts.get(injury.patient_id),
        steps=getattr(row, "course", []),
    )


def evidence(user: Viewer, notice: SafetyNotice) -> Iterator[tuple[object, ...]]:
    """Yield every step about every carrier of a notice, as rows of a table."""
    rows = with_steps(carriers_seen(user, notice))
    batch: list[Any] = []
    for row in rows.iterator(chunk_size=AT_ONCE):
        batch.append(row)
        if len(batch) == AT_ONCE:
            yield from _rows(user, batch)
            batch = []
    yield from _rows(user, batch)


def _rows(user: Viewer, batch: Sequence[Any]) -> Iterator[tuple[object, ...]]:
    for line in lines_of(user, batch):
        row = line.carrier
        begin = (
            row.notice.reference,
            line.patient.key,
            line.name,
            row.site.code,
            row.procedure.performed_on,
            line.side,
            line.construct,
            row.get_sureness_display().lower(),
            row.because,
            row.get_state_display().lower(),
            line.last.on if line.last else None,
            line.last.how if line.last else "",
        )
        for step in line.steps:
            said = (step.get_kind_display().lower(), step.on, step.note)
            yield (*begin, *said, step.at.isoformat(timespec="seconds"), str(step.by))
