"""What patients chose about the use of their data, and what that leaves for use.

The one place that knows: figures, copies that are taken away and contact all ask here. The decision
with the latest date counts, and of one day the one recorded last; a voided one was never made.
"""

from collections.abc import Collection
from datetime import date, datetime
from typing import Any

from django.db.models import F, Model, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce, TruncDate

from registry.models.patients import Consent, ConsentDecision, ConsentPurpose, Patient
from registry.models.people import Person
from registry.models.sites import Site

# Either way of ending the use in the registry: nothing is asked of such a patient any more.
ENDED = (ConsentDecision.FROM_NOW, ConsentDecision.OPTED_OUT)
# Beyond these every row leads to everybody.
CROSSROADS = (Person, Site)


def way_to_patient(model: type[Model]) -> str:
    """Return how rows of a model lead to their patient, '' from the patient; the shortest way.

    Raises ValueError for a model whose every row does not lead to one.
    """
    ways = [way for way, optional in ways_to_patient(model) if not optional]
    if not ways:
        raise ValueError(f"rows of {model.__name__} do not lead to a patient")
    return min(ways, key=len)


def ways_to_patient(model: type[Model]) -> list[tuple[str, bool]]:
    """Return all ways from a model's rows to patients, each with whether a link of it may be empty."""
    return [("__".join(way), optional) for way, optional in _ways(model, ())]


def _ways(model: type[Model], seen: tuple[type[Model], ...]) -> list[tuple[tuple[str, ...], bool]]:
    if model is Patient:
        return [((), False)]
    found = []
    for column in model._meta.concrete_fields:
        target: Any = column.related_model
        if not column.is_relation or target in (*CROSSROADS, *seen, model):
            continue
        for way, optional in _ways(target, (*seen, model)):
            found.append(((column.name, *way), optional or column.null))
    return found


def with_choice(rows: QuerySet[Any], patient: str) -> QuerySet[Any]:
    """Give rows their patient's last choice about the registry and its day: '' and None without one."""
    last = _decisions(ConsentPurpose.REGISTRY, patient)
    found: QuerySet[Any] = rows.annotate(
        registry_choice=Coalesce(Subquery(last.values("decision")[:1]), Value("")),
        registry_choice_on=Subquery(last.values("decided_on")[:1]),
    )
    return found


def usable(rows: QuerySet[Any], but: Q | None = None) -> QuerySet[Any]:
    """Leave out the rows that their patients' choices keep out of every use, unless they are `but`.

    Of whoever opted out wholly that is everything, of whoever opted out from a day on what was
    recorded after that day.
    """
    names = {column.name for column in rows.model._meta.concrete_fields}
    recorded = "recorded_at" if "recorded_at" in names else "made_at"
    late = Q(registry_choice=ConsentDecision.FROM_NOW, recorded_day__gt=F("registry_choice_on"))
    patient = way_to_patient(rows.model) or "pk"
    # First of all whether somebody ever opted out: of all others nobody's last choice is looked for.
    once_out = Q(**{f"{patient}__in": _opting_out().values("patient_id")})
    out = once_out & (late | Q(registry_choice=ConsentDecision.OPTED_OUT))
    chosen = with_choice(rows, patient)
    found: QuerySet[Any] = chosen.annotate(recorded_day=TruncDate(recorded))
    return found.exclude(out if but is None else out & ~but)


def not_contacted() -> QuerySet[Any]:
    """Return the patients, by number, whom nothing may be sent to: by that choice, or as they left."""
    contact = _decisions(ConsentPurpose.CONTACT, "pk")
    rows = with_choice(_once_out(), "pk").annotate(
        contact_choice=Coalesce(Subquery(contact.values("decision")[:1]), Value(""))
    )
    none = Q(contact_choice=ConsentDecision.OPTED_OUT) | Q(registry_choice__in=ENDED)
    found: QuerySet[Any] = rows.filter(none).order_by().values("pk")
    return found


def withdrawn() -> QuerySet[Any]:
    """Return the patients, by number, of whom nothing is used: who opted out wholly."""
    rows = with_choice(_once_out(), "pk").filter(registry_choice=ConsentDecision.OPTED_OUT)
    found: QuerySet[Any] = rows.order_by().values("pk")
    return found


def not_shared() -> QuerySet[Any]:
    """Return the patients, by key, of whom no extract for research holds anything.

    Who refused sharing, who ended the use in the registry from a day on or wholly, and whose rows were
    voided or erased.
    """
    sharing = _decisions(ConsentPurpose.SHARING, "pk")
    rows = with_choice(_once_out(), "pk").annotate(
        sharing_choice=Coalesce(Subquery(sharing.values("decision")[:1]), Value(""))
    )
    out = Q(sharing_choice=ConsentDecision.OPTED_OUT) | Q(registry_choice__in=ENDED)
    gone = Patient.everything.filter(voided_at__isnull=False)
    found: QuerySet[Any] = Patient.everything.filter(
        Q(pk__in=rows.filter(out).order_by().values("pk")) | Q(pk__in=gone.order_by().values("pk"))
    )
    return found.order_by().values_list("key", flat=True)


def ended_since(moment: datetime) -> bool:
    """Say whether anybody's opt-out of the registry was written down since a moment."""
    rows = Consent.objects.filter(purpose=ConsentPurpose.REGISTRY, decision__in=ENDED)
    return rows.filter(changed_at__gte=moment).exists()


def of_patients(patients: Collection[int]) -> dict[int, tuple[str, date]]:
    """Return the last choice about the registry, and its day, of those patients who made one."""
    rows = Consent.objects.filter(patient__in=patients, purpose=ConsentPurpose.REGISTRY)
    found: dict[int, tuple[str, date]] = {}
    for row in rows.order_by("-decided_on", "-id"):
        found.setdefault(row.patient_id, (row.decision, row.decided_on))
    return found


def _once_out() -> QuerySet[Any]:
    """Return the patients who ever opted out of anything: few, of whom the last choice is then asked."""
    found: QuerySet[Any] = Patient.everything.filter(pk__in=_opting_out().values("patient_id"))
    return found


def _opting_out() -> QuerySet[Any]:
    rows: QuerySet[Any] = Consent.objects.exclude(decision=ConsentDecision.GIVEN)
    return rows


def _decisions(purpose: str, patient: str) -> QuerySet[Any]:
    rows: QuerySet[Any] = Consent.objects.filter(patient=OuterRef(patient), purpose=purpose)
    return rows.order_by("-decided_on", "-id")
