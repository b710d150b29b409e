"""Who may see what."""

from datetime import date

import pytest
from django.contrib.auth.models import AnonymousUser

from registry.errors import NotAllowed
from registry.models import (
    ConstructType,
    Identifier,
    Identity,
    Injury,
    Membership,
    Patient,
    Person,
    Site,
)
from registry.selectors import visible as selector
from registry.selectors.visible import may, require, site_ids, visible
from tests import builders
from tests.builders import TODAY

pytestmark = pytest.mark.django_db


def test_rows_of_other_sites_are_not_there(surgeon: Person) -> None:
    here = builders.injury()
    builders.injury(builders.patient(at=builders.site("south")))
    for model in (Patient, Identity, Identifier, Injury):
        assert visible(surgeon, model).count() == 1
    assert list(visible(surgeon, Injury)) == [here]


def test_a_patient_of_two_sites_is_seen_at_both_with_the_numbers_of_each(
    surgeon: Person, outsider: Person
) -> None:
    patient = builders.patient()
    builders.injury(patient, site=builders.site("south"))
    for somebody, numbers in ((surgeon, 1), (outsider, 0)):
        assert list(visible(somebody, Patient)) == [patient]
        assert visible(somebody, Identifier).count() == numbers


def test_a_role_that_does_not_permit_the_action_sees_nothing(quality_lead: Person) -> None:
    builders.patient()
    assert not visible(quality_lead, Patient).exists()
    assert not may(quality_lead, "see_patient")


def test_a_role_counts_from_its_first_to_its_last_day() -> None:
    selma = builders.person("selma", north="surgeon")
    Membership.objects.update(starts_on=date(2026, 11, 1), ends_on=date(2026, 11, 25))
    for day, holds in ((date(2026, 10, 31), False), (TODAY, True), (date(2026, 11, 26), False)):
        assert may(selma, "enrol", day) == holds


def test_a_site_out_of_use_is_seen_by_nobody(surgeon: Person) -> None:
    builders.patient()
    Site.objects.update(is_active=False)
    assert not visible(surgeon, Patient).exists()


def test_strangers_and_those_who_may_not_sign_in_see_nothing(surgeon: Person) -> None:
    builders.patient()
    surgeon.is_active = False
    for somebody in (AnonymousUser(), surgeon):
        assert not visible(somebody, Patient).exists()
        assert not visible(somebody, ConstructType).exists()


def test_voided_and_merged_patients_and_their_names_are_not_seen(surgeon: Person) -> None:
    one, two = builders.patient(), builders.patient()
    Patient.objects.filter(pk=one.pk).update(merged_into=two)
    Patient.objects.filter(pk=two.pk).update(
        voided_at=builders.NOW, voided_by=surgeon, void_reason="wrong"
    )
    for model in (Patient, Identity, Identifier):
        assert not visible(surgeon, model).exists()


def test_requiring_names_the_action_that_is_refused(surgeon: Person) -> None:
    require(surgeon, "enrol", builders.site().pk)
    with pytest.raises(NotAllowed, match="set up"):
        require(surgeon, "set_up")
    with pytest.raises(NotAllowed):
        require(surgeon, "enrol", builders.site("south").pk)


def test_an_action_that_nobody_defined_is_an_error_and_never_a_way_in(surgeon: Person) -> None:
    with pytest.raises(KeyError):
        site_ids(surgeon, "see_everything")


def test_roles_are_asked_once_for_each_person(surgeon: Person, counted: object) -> None:
    with counted() as queries:  # type: ignore[operator]
        for action in ("enrol", "correct", "see_due"):
            selector.site_ids(surgeon, action, TODAY)
    assert len(queries) == 1
