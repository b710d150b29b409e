"""Every type of resource that is served, and who may see it."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from followup.exchange.fhir import answers, events, params
from followup.exchange.fhir.params import Param
from followup.exchange.fhir.sources import (
    Source,
    by_name,
    by_names,
    observation_sources,
    of,
    plain,
    statuses,
)
from followup.selectors import fhir_rows as followed
from registry.exchange.fhir.devices import device, use
from registry.exchange.fhir.injuries import condition
from registry.exchange.fhir.patients import patient
from registry.exchange.fhir.procedures import procedure
from registry.rules.fhir.elements import Json
from registry.rules.fhir.queries import STRING
from registry.selectors import fhir_rows
from registry.selectors.fhir_rows import CLINICAL, FILMS, PERSONAL, Seer


@dataclass(frozen=True)
class Kind:
    """One type of resource. `sees` are the rights of which one opens it.

    `gone` types have no status for what was entered in error: it is gone. `taken_in` can come by a
    transaction.
    """

    name: str
    sees: tuple[str, ...]
    sources: tuple[Source, ...]
    gone: bool = False
    taken_in: bool = False
    note: str = ""

    @property
    def params(self) -> dict[str, str]:
        """Every parameter with its type."""
        return {name: one.kind for source in self.sources for name, one in source.params.items()}


def _patient(row: Any, seer: Seer) -> Json:
    return patient(row, named=bool(row.named_at), numbers=row.numbers_seen)


_PATIENTS = Source(
    fhir_rows.patients,
    _patient,
    {
        "identifier": params.patient_number(),
        "name": params.name("sort_name", "given_name", "family_name"),
        "family": params.name("family_name"),
        "given": params.name("given_name"),
        "birthdate": params.of_identity(
            params.days("identity__birth_earliest", "identity__birth_latest")
        ),
        "gender": params.of_identity(
            statuses(
                **{one: Q(identity__sex=one) for one in ("female", "male", "other", "unknown")}
            )
        ),
    },
    lookup="key",
)
_CONDITIONS = Source(
    fhir_rows.injuries,
    by_names(condition, "named"),
    of(
        "patient__key",
        identifier=params.number_of("injury"),
        code=params.column_token("kind", "injury-kind"),
        onset_date=params.days("injured_earliest", "injured_latest"),
        recorded_date=params.moment("recorded_at"),
        verification_status=statuses(confirmed=Q()),
        body_site=params.column_token("side", "side"),
    ),
)
_PROCEDURES = Source(
    fhir_rows.procedures,
    by_name(procedure),
    of(
        "injury__patient__key",
        identifier=params.number_of("procedure"),
        code=params.column_token("kind", "procedure-kind"),
        date=params.days("performed_on"),
        status=statuses(completed=Q()),
        reason_reference=params.link("injury", "Condition"),
    ),
)
_PART_PATIENT = "construct__procedure__injury__patient__key"
_DEVICES = Source(
    fhir_rows.parts,
    by_names(device, "named"),
    {
        "patient": params.patient(_PART_PATIENT),
        "identifier": params.number_of("part"),
        "type": params.column_token("implant_model__kind", "part-kind"),
        "status": statuses(active=Q()),
        "udi-di": Param(
            STRING, lambda value, seer, now: Q(implant_model__device_identifier__startswith=value)
        ),
    },
)
_USES = Source(
    fhir_rows.parts,
    plain(use),
    of(_PART_PATIENT, device=params.link("pk", "Device")),
)
_EVENTS = Source(
    followed.complications,
    by_name(events.adverse_event),
    of(
        "procedure__injury__patient__key",
        event=params.column_token("kind", "complication-kind"),
        date=params.days("onset_earliest", "onset_latest"),
        actuality=statuses(actual=Q()),
        seriousness=params.column_token("grade", "complication-grade"),
    ),
)
_SLOTS = Source(
    followed.appointments,
    by_name(events.appointment),
    {
        "patient": params.patient("review__procedure__injury__patient__key"),
        "date": params.days("on"),
        "status": statuses(
            **{theirs: Q(state=ours) for ours, theirs in events.APPOINTMENT.items()}
        ),
    },
)
_TASKS = Source(
    followed.tasks,
    by_name(events.task),
    of(
        "patient__key",
        code=params.column_token("kind", "task-kind"),
        status=statuses(ready=Q(done_at__isnull=True), completed=Q(done_at__isnull=False)),
        authored_on=params.moment("recorded_at"),
        period=params.days("due_on"),
    ),
)
_PLANS = Source(
    followed.schedules,
    by_name(events.care_plan),
    of(
        "injury__patient__key",
        status=statuses(
            active=Q(pk__in=followed.with_open_reviews()),
            completed=~Q(pk__in=followed.with_open_reviews()),
        ),
    ),
)
_STUDIES = Source(
    followed.films,
    by_name(events.imaging_study),
    of(
        "injury__patient__key",
        started=params.days("taken_on"),
        status=statuses(available=Q()),
    ),
)
_ANSWERED = (
    Source(
        followed.itemised_scores,
        plain(answers.of_score),
        of(
            "injury__patient__key",
            authored=params.days("taken_on"),
            status=statuses(completed=Q()),
        ),
        prefix="score",
    ),
    Source(
        followed.answered,
        plain(answers.of_invitation),
        of(
            "review__procedure__injury__patient__key",
            authored=params.moment("authored"),
            status=statuses(
                completed=Q(completed_at__isnull=False),
                in_progress=Q(
                    completed_at__isnull=True, revoked_at__isnull=True, landed_at__isnull=True
                ),
                stopped=Q(completed_at__isnull=True)
                & (Q(revoked_at__isnull=False) | Q(landed_at__isnull=False)),
            ),
        ),
        prefix="invitation",
    ),
)
KINDS: dict[str, Kind] = {
    one.name: one
    for one in (
        Kind(
            *("Patient", CLINICAL, (_PATIENTS,)),
            gone=True,
            taken_in=True,
            note="Names for those who may see names; else the key, and MASKED in meta.security.",
        ),
        Kind("Condition", CLINICAL, (_CONDITIONS,), taken_in=True, note="Injuries."),
        Kind("Procedure", CLINICAL, (_PROCEDURES,), taken_in=True, note="Operations."),
        Kind("Device", CLINICAL, (_DEVICES,), taken_in=True, note="Implanted parts."),
        Kind("DeviceUseStatement", CLINICAL, (_USES,), note="When a part is in the body."),
        Kind("ImagingStudy", FILMS, (_STUDIES,), note="Films, without their pictures."),
        Kind(
            "Observation", FILMS, observation_sources(), note="Motion, scores, readings, findings."
        ),
        Kind("QuestionnaireResponse", CLINICAL, _ANSWERED, note="Answers by item number."),
        Kind("AdverseEvent", CLINICAL, (_EVENTS,), gone=True, note="Unwanted events."),
        Kind("Appointment", PERSONAL, (_SLOTS,), note="Booked slots."),
        Kind("Task", PERSONAL, (_TASKS,), note="What is to be done about a patient."),
        Kind("CarePlan", CLINICAL, (_PLANS,), note="The reviews after an operation."),
    )
}
