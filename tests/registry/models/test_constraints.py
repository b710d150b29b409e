"""What the database itself refuses, whatever way a row comes in."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, models, transaction

from registry.models import (
    Classification,
    Consent,
    Construct,
    ConstructType,
    Identifier,
    Identity,
    Injury,
    Membership,
    Part,
    Patient,
    PatientMerge,
    PatientSite,
    Procedure,
    Site,
    TwoPeople,
)
from registry.services import implants
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db


def refuses(act: Callable[[], Any]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        act()


def part() -> None:
    construct = builders.procedure().construct
    given = implants.PartGiven("screw", "screw", batch="B-1")
    implants.add_part(construct=construct, given=given, by=construct.recorded_by, now=NOW)


def a_person() -> None:
    builders.person("selma", north="surgeon")


@pytest.mark.parametrize(
    ("make", "model", "values"),
    [
        (builders.patient, Patient, {"status": "died"}),
        (builders.patient, Patient, {"status_on": date(2026, 1, 1)}),
        (builders.patient, Patient, {"status": "asleep", "status_on": date(2026, 1, 1)}),
        (builders.patient, Patient, {"version": 0}),
        (builders.patient, Patient, {"void_reason": "wrong"}),
        (builders.patient, Patient, {"changed_at": NOW - timedelta(days=1)}),
        (builders.patient, Identity, {"birth_latest": date(1900, 1, 1)}),
        (builders.patient, Identity, {"family_name": ""}),
        (builders.patient, Identity, {"sex": "f"}),
        (builders.patient, Identity, {"preferred_means": "pigeon"}),
        (builders.patient, Identifier, {"value": ""}),
        (builders.injury, Injury, {"injured_latest": date(2026, 5, 31)}),
        (builders.injury, Injury, {"side": "both"}),
        (builders.injury, Injury, {"age_years": 121}),
        (builders.injury, Injury, {"bmi_kg_m2": 9}),
        (builders.injury, Injury, {"other_shoulder": ""}),
        (builders.injury, Classification, {"code": "15.3A"}),
        (builders.procedure, Procedure, {"kind": "revision_fixation"}),
        (builders.procedure, Procedure, {"kind": "implant_removal"}),
        (builders.procedure, Procedure, {"planned_removal": True}),
        (builders.procedure, Procedure, {"duration_minutes": 4}),
        (builders.procedure, Procedure, {"approach": "sideways"}),
        (builders.procedure, Construct, {"lateral_screw_count": 21}),
        (builders.procedure, Construct, {"anchor_count": 7}),
        (builders.procedure, Construct, {"knot": "granny"}),
        (builders.procedure, ConstructType, {"planned_removal": True}),
        (builders.procedure, ConstructType, {"family": "glue"}),
        (part, Part, {"quantity": 0}),
        (part, Part, {"batch_not_obtainable": True}),
        (a_person, Membership, {"role": "king"}),
        (a_person, Membership, {"ends_on": date(2019, 1, 1)}),
        (a_person, Site, {"min_at_risk": 0}),
    ],
)
def test_an_impossible_value_is_refused(
    make: Callable[[], Any], model: type[models.Model], values: dict[str, Any]
) -> None:
    make()
    refuses(lambda: model._base_manager.update(**values))


def test_one_fixation_for_each_injury_and_again_after_a_void() -> None:
    row = builders.procedure()
    twin = Procedure.objects.get(pk=row.pk)
    twin.pk = None
    refuses(lambda: twin.save(force_insert=True))
    Procedure.objects.update(voided_at=NOW, voided_by=row.recorded_by, void_reason="wrong")
    twin.save(force_insert=True)
    assert Procedure.objects.count() == 1


def test_one_number_of_one_system_for_each_site() -> None:
    one, other = builders.patient(), builders.patient()
    value = one.identifiers.get().value
    refuses(lambda: Identifier.objects.filter(patient=other).update(value=value))


def test_one_current_class_for_each_system() -> None:
    row = builders.injury().classifications.get()
    row.pk = None
    refuses(lambda: row.save(force_insert=True))


def test_a_patient_is_at_a_site_once() -> None:
    patient = builders.patient()
    refuses(lambda: PatientSite.objects.create(patient=patient, site=patient.site))


def test_a_role_is_held_once_at_a_time() -> None:
    a_person()
    held = Membership.objects.get()
    held.pk = None
    refuses(lambda: held.save(force_insert=True))


def test_a_consent_has_a_basis() -> None:
    patient = builders.patient()
    refuses(
        lambda: Consent.objects.create(
            patient=patient,
            site=patient.site,
            purpose="registry",
            decision="given",
            decided_on=date(2026, 1, 1),
            basis="",
            recorded_at=NOW,
            recorded_by=patient.recorded_by,
            changed_at=NOW,
            changed_by=patient.recorded_by,
        )
    )


def test_a_departure_is_noted_once() -> None:
    facts = {"lateral_screw_count": 4, "lateral_screws_locking": "yes"}
    row = builders.procedure(construct=facts).construct.departures.get()
    row.pk = None
    refuses(lambda: row.save(force_insert=True))


def test_a_merge_is_of_two_and_once_at_a_time() -> None:
    one, other = builders.patient(), builders.patient()
    facts = {"merged_at": NOW, "merged_by": one.recorded_by, "reason": "passport"}
    refuses(lambda: PatientMerge.objects.create(kept=one, merged=one, **facts))
    PatientMerge.objects.create(kept=one, merged=other, **facts)
    refuses(lambda: PatientMerge.objects.create(kept=one, merged=other, **facts))
    PatientMerge.objects.update(undone_at=NOW, undone_by=one.recorded_by)
    PatientMerge.objects.create(kept=one, merged=other, **facts)


def test_two_people_are_said_in_order() -> None:
    one, other = builders.patient(), builders.patient()
    facts = {"said_at": NOW, "said_by": one.recorded_by}
    refuses(lambda: TwoPeople.objects.create(first=other, second=one, **facts))


def test_nothing_that_something_hangs_on_can_be_deleted() -> None:
    row = builders.procedure()
    with pytest.raises(models.ProtectedError):
        row.injury.patient.delete()


def test_days_from_injury_are_a_range_when_its_date_is() -> None:
    hurt = builders.injury(injured_earliest=date(2026, 6, 1), injured_latest=date(2026, 6, 30))
    row = builders.procedure(hurt, performed_on=date(2026, 7, 3))
    assert row.days_from_injury == (3, 32)
