"""Patients with parts in them, and notices about such parts."""

from datetime import date
from typing import Any

from registry.models import NoticeScope, Part, Procedure, SafetyNotice, Site
from registry.services import enrolment, implants, safety_notices
from tests import builders
from tests.builders import NOW, TODAY

PLATE = "09506000134352"
SCREW = "09506000134369"


def part(of: Procedure | None = None, at: Site | None = None, **given: Any) -> Part:
    """Return a part of an operation, by default a plate with a device identifier and no batch."""
    operation = of or builders.procedure(builders.injury(builders.patient(at)))
    values = {
        "kind": "plate",
        "description": "clavicle plate, six holes",
        "device_identifier": PLATE,
        **given,
    }
    return implants.add_part(
        construct=operation.construct,
        given=implants.PartGiven(**values),
        by=operation.recorded_by,
        now=NOW,
    )


def later(of: Procedure, kind: str, on: date = date(2026, 10, 1)) -> Procedure:
    """Return a removal or a revision of an operation."""
    construct = {"construct_type": builders.construct_type("LP")}
    return enrolment.record_procedure(
        injury=of.injury,
        values={"kind": kind, "performed_on": on, "revises": of},
        construct=construct if kind == "revision_fixation" else None,
        by=of.recorded_by,
        now=NOW,
        today=TODAY,
    )


def bare_notice(*lines: dict[str, Any], **values: Any) -> SafetyNotice:
    """Return a notice with its lines as rows alone: nothing has been matched."""
    owner = builders.person("keeper", north="coordinator+administrator")
    given = {
        "reference": f"FSN-{SafetyNotice.objects.count() + 1}",
        "title": "Plates of one batch may break",
        "kind": "recall",
        "advice": "Tell the patient; take a film.",
        "issued_on": TODAY,
        "received_on": TODAY,
        "due_on": TODAY,
        "owner": owner,
        "recorded_by": owner,
        "recorded_at": NOW,
        **values,
    }
    notice = SafetyNotice.objects.create(**given)
    for line in lines or ({"device_identifier": PLATE, "batch_first": "LOT42A"},):
        NoticeScope.objects.create(notice=notice, **line)
    return notice


def notice(*given: dict[str, Any], lines: Any = None, **values: Any) -> SafetyNotice:
    """Return a notice that was entered and matched, by default about the plates of batch LOT42A."""
    owner = builders.person("keeper", north="coordinator+administrator")
    told = {
        "reference": f"FSN-{SafetyNotice.objects.count() + 1}",
        "title": "Plates of one batch may break",
        "kind": "recall",
        "advice": "Tell the patient; take a film.",
        "issued_on": TODAY,
        "received_on": TODAY,
        "due_on": TODAY,
        "owner": owner,
        **values,
    }
    default = [{"device_identifier": PLATE, "batch_first": "LOT42A"}]
    return safety_notices.record_notice(
        values=told,
        lines=lines if lines is not None else list(given) or default,
        by=owner,
        now=NOW,
    )
