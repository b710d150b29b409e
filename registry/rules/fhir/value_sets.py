"""The codes that R4 requires, which the model library passes unchecked.

Each table is the required value set of an element of FHIR R4 (4.0.1), with its name there. The
codes equal those in the type declarations of R4 of the package @types/fhir 0.0.41 (MIT); names of the sets and
the codes of systems below are from memory.
Not every code is sent by us: the tables are whole, since what is taken in is held to them as well.
"""

from collections.abc import Iterator
from typing import Any

from registry.rules.fhir.elements import ABSENT_SYSTEM, TERMINOLOGY, Json

OBSERVATION_STATUS = (
    *("registered", "preliminary", "final", "amended", "corrected", "cancelled"),
    *("entered-in-error", "unknown"),
)
EVENT_STATUS = (
    *("preparation", "in-progress", "not-done", "on-hold", "stopped", "completed"),
    *("entered-in-error", "unknown"),
)
GENDER = ("male", "female", "other", "unknown")
NAME_USE = ("usual", "official", "temp", "nickname", "anonymous", "old", "maiden")
IDENTIFIER_USE = ("usual", "official", "temp", "secondary", "old")
CONTACT_SYSTEM = ("phone", "fax", "email", "pager", "url", "sms", "other")
CARE_PLAN_STATUS = (
    *("draft", "active", "on-hold", "revoked", "completed", "entered-in-error", "unknown"),
)
ACTIVITY_STATUS = (
    *("not-started", "scheduled", "in-progress", "on-hold", "completed", "cancelled", "stopped"),
    *("unknown", "entered-in-error"),
)
ACTIVITY_KIND = (
    *("Appointment", "CommunicationRequest", "DeviceRequest", "MedicationRequest"),
    *("NutritionOrder", "Task", "ServiceRequest", "VisionPrescription"),
)
TASK_STATUS = (
    *("draft", "requested", "received", "accepted", "rejected", "ready", "cancelled"),
    *("in-progress", "on-hold", "failed", "completed", "entered-in-error"),
)
TASK_INTENT = (
    *("unknown", "proposal", "plan", "order", "original-order", "reflex-order"),
    *("filler-order", "instance-order", "option"),
)
# (type, path without indexes) -> (codes, name of the value set)
REQUIRED: dict[tuple[str, str], tuple[tuple[str, ...], str]] = {
    ("Patient", "gender"): (GENDER, "administrative-gender"),
    ("Patient", "name.use"): (NAME_USE, "name-use"),
    ("Patient", "identifier.use"): (IDENTIFIER_USE, "identifier-use"),
    ("Patient", "telecom.system"): (CONTACT_SYSTEM, "contact-point-system"),
    ("Patient", "link.type"): (("replaced-by", "replaces", "refer", "seealso"), "link-type"),
    ("Procedure", "status"): (EVENT_STATUS, "event-status"),
    ("Device", "status"): (
        ("active", "inactive", "entered-in-error", "unknown"),
        "device-status",
    ),
    ("Device", "udiCarrier.entryType"): (
        ("barcode", "rfid", "manual", "card", "self-reported", "unknown"),
        "udi-entry-type",
    ),
    ("Device", "deviceName.type"): (
        (
            *("udi-label-name", "user-friendly-name", "patient-reported-name"),
            *("manufacturer-name", "model-name", "other"),
        ),
        "device-nametype",
    ),
    ("DeviceUseStatement", "status"): (
        ("active", "completed", "entered-in-error", "intended", "stopped", "on-hold"),
        "device-statement-status",
    ),
    ("Observation", "status"): (OBSERVATION_STATUS, "observation-status"),
    ("QuestionnaireResponse", "status"): (
        ("in-progress", "completed", "amended", "entered-in-error", "stopped"),
        "questionnaire-answers-status",
    ),
    ("AdverseEvent", "actuality"): (("actual", "potential"), "adverse-event-actuality"),
    ("Appointment", "status"): (
        (
            *("proposed", "pending", "booked", "arrived", "fulfilled", "cancelled", "noshow"),
            *("entered-in-error", "checked-in", "waitlist"),
        ),
        "appointmentstatus",
    ),
    ("Appointment", "participant.status"): (
        ("accepted", "declined", "tentative", "needs-action"),
        "participationstatus",
    ),
    ("Task", "status"): (TASK_STATUS, "task-status"),
    ("Task", "intent"): (TASK_INTENT, "task-intent"),
    ("CarePlan", "status"): (CARE_PLAN_STATUS, "request-status"),
    ("CarePlan", "intent"): (("proposal", "plan", "order", "option"), "care-plan-intent"),
    ("CarePlan", "activity.detail.kind"): (ACTIVITY_KIND, "care-plan-activity-kind"),
    ("CarePlan", "activity.detail.status"): (ACTIVITY_STATUS, "care-plan-activity-status"),
    ("ImagingStudy", "status"): (
        ("registered", "available", "cancelled", "entered-in-error", "unknown"),
        "imagingstudy-status",
    ),
    ("CodeSystem", "status"): (("draft", "active", "retired", "unknown"), "publication-status"),
    ("CodeSystem", "content"): (
        ("not-present", "example", "fragment", "complete", "supplement"),
        "codesystem-content-mode",
    ),
}
# Codes that are required, or all that we use, wherever a coding names the system.
OF_SYSTEMS: dict[str, tuple[str, ...]] = {
    f"{TERMINOLOGY}/condition-ver-status": (
        *("unconfirmed", "provisional", "differential", "confirmed", "refuted"),
        "entered-in-error",
    ),
    f"{TERMINOLOGY}/adverse-event-outcome": (
        *("resolved", "recovering", "ongoing", "resolvedWithSequelae", "fatal", "unknown"),
    ),
    f"{TERMINOLOGY}/observation-category": (
        *("social-history", "vital-signs", "imaging", "laboratory", "procedure", "survey"),
        *("exam", "therapy", "activity"),
    ),
    ABSENT_SYSTEM: (
        *("unknown", "asked-unknown", "temp-unknown", "not-asked", "asked-declined", "masked"),
        *("not-applicable", "unsupported", "as-text", "error", "not-a-number"),
        *("negative-infinity", "positive-infinity", "not-performed", "not-permitted"),
    ),
    "http://hl7.org/fhir/device-action": ("implanted", "explanted", "manipulated"),
}


def faults(resource: Json) -> list[tuple[str, str]]:
    """Return (path, words) for each code outside the value set that R4 requires there."""
    kind = resource.get("resourceType", "")
    found = []
    for path, plain, value in leaves(resource):
        if (kind, plain) in REQUIRED:
            codes, name = REQUIRED[kind, plain]
            if value not in codes:
                words = f"'{value}' is not in the value set {name}: {', '.join(codes)}."
                found.append((f"{kind}.{path}", words))
    for path, one in codings(resource):
        known = OF_SYSTEMS.get(one.get("system", ""))
        if known is not None and one.get("code") not in known:
            words = f"'{one.get('code')}' is no code of {one['system']}: {', '.join(known)}."
            found.append((f"{kind}.{path}.code", words))
    return found


def leaves(node: Any, path: str = "", plain: str = "") -> Iterator[tuple[str, str, Any]]:
    """Yield (path, path without indexes, value) of every value inside an element."""
    if isinstance(node, dict):
        for name, value in node.items():
            dot = "." if path else ""
            yield from leaves(value, f"{path}{dot}{name}", f"{plain}{dot}{name}")
    elif isinstance(node, list):
        for place, value in enumerate(node):
            yield from leaves(value, f"{path}[{place}]", plain)
    else:
        yield path, plain, node


def codings(node: Any, path: str = "") -> Iterator[tuple[str, Json]]:
    """Yield every coding inside an element, with its path."""
    if isinstance(node, dict):
        if "code" in node and "system" in node and isinstance(node["code"], str):
            yield path, node
        for name, value in node.items():
            yield from codings(value, f"{path}.{name}" if path else name)
    elif isinstance(node, list):
        for place, value in enumerate(node):
            yield from codings(value, f"{path}[{place}]")
