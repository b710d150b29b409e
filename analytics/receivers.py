"""What the analytics do when a room below announces something, and answer when it asks."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.dispatch import receiver

from analytics.selectors import built_on, cases, definitions
from analytics.services import loss_alerts
from followup import notices as followup_notices
from registry import notices
from registry.models.people import Person
from registry.models.sites import Site

# How a row that was voided names the injury whose case it changes.
INJURY_OF: Mapping[str, str] = {"injury": "pk", "procedure": "injury_id"}


@receiver(followup_notices.reading_recorded, dispatch_uid="weigh-reading")
def weigh_reading(sender: object, reading: Any, now: datetime, **kwargs: Any) -> None:
    """Mark the case of a film that was read, for the first time or again."""
    loss_alerts.mark(injury_id=reading.film.injury_id, now=now)


@receiver(followup_notices.film_corrected, dispatch_uid="weigh-film")
def weigh_film(sender: object, film: Any, now: datetime, **kwargs: Any) -> None:
    """Mark the case of a film whose day, view or calibration was corrected."""
    loss_alerts.mark(injury_id=film.injury_id, now=now)


@receiver(notices.procedure_recorded, dispatch_uid="weigh-procedure")
@receiver(notices.operation_date_corrected, dispatch_uid="weigh-corrected")
def weigh_procedure(sender: object, procedure: Any, now: datetime, **kwargs: Any) -> None:
    """Mark the case of an operation that was recorded or dated anew."""
    loss_alerts.mark(injury_id=procedure.injury_id, now=now)


@receiver(notices.injury_moved, dispatch_uid="weigh-moved")
@receiver(notices.injury_moved_back, dispatch_uid="weigh-moved-back")
@receiver(notices.injury_side_changed, dispatch_uid="weigh-side")
def weigh_moved(sender: object, injury: Any, now: datetime, **kwargs: Any) -> None:
    """Mark the case of an injury that went to another patient or side."""
    loss_alerts.mark(injury_id=injury.pk, now=now)


@receiver(notices.operation_moved, dispatch_uid="weigh-operation")
@receiver(notices.operation_moved_back, dispatch_uid="weigh-operation-back")
def weigh_operation(sender: object, came_from: Any, to: Any, now: datetime, **kwargs: Any) -> None:
    """Mark the cases at both ends of an operation that went to another injury."""
    for injury in (came_from, to):
        loss_alerts.mark(injury_id=injury.pk, now=now)


@receiver(notices.row_voided, dispatch_uid="weigh-voided")
def weigh_voided(sender: type[Any], row: Any, now: datetime, **kwargs: Any) -> None:
    """Mark the case of an injury or operation that is void."""
    path = INJURY_OF.get(sender._meta.model_name)
    if path is not None:
        loss_alerts.mark(injury_id=getattr(row, path), now=now)


@receiver(notices.import_undone, dispatch_uid="weigh-undone")
def weigh_undone(sender: object, injuries: list[int], now: datetime, **kwargs: Any) -> None:
    """Mark the cases that an import had added and that are void."""
    for injury_id in injuries:
        loss_alerts.mark(injury_id=injury_id, now=now)


@receiver(followup_notices.import_builders_asked, dispatch_uid="tell-built-on")
def tell_built_on(sender: object, procedures: Any, most: int, **kwargs: Any) -> list[str]:
    """Answer with the charts, signals and alerts that build on the cases of an import."""
    return built_on.told(procedures, most)


@receiver(notices.patient_status_changed, dispatch_uid="weigh-status")
def weigh_status(sender: object, patient: Any, now: datetime, **kwargs: Any) -> None:
    """Mark the cases of a patient who died, left or came back, as far as anybody was warned of them."""
    loss_alerts.mark_patient(patient_id=patient.pk, now=now)


@receiver(notices.registry_choice_made, dispatch_uid="weigh-choice")
def weigh_choice(sender: object, patient: Any, now: datetime, **kwargs: Any) -> None:
    """Mark the cases of a patient who opted out of the registry, or took that back."""
    loss_alerts.mark_all_of(patient_id=patient.pk, now=now)


@receiver(notices.patient_erased, dispatch_uid="close-alerts-erased")
def close_erased(sender: object, patient: Any, by: Person, now: datetime, **kwargs: Any) -> None:
    """Take back what stands about an erased patient."""
    loss_alerts.close_of_patient(patient_id=patient.pk, because="erased on request", by=by, now=now)


@receiver(notices.holdings_asked, dispatch_uid="tell-holdings")
def tell_holdings(sender: object, patients: list[Any], **kwargs: Any) -> list[str]:
    """Answer with what figures hold on a person, besides rows that lead to them."""
    return cases.held_in_figures(patients)


@receiver(followup_notices.baseline_window_asked, dispatch_uid="tell-baseline-window")
def tell_baseline_window(sender: object, site: Site, **kwargs: Any) -> int | None:
    """Answer with the baseline window of the definition that a site calls its own."""
    return definitions.baseline_days_of(site)
