"""Whose a row is, found by walking the models: no watched table that hangs on a patient is left out."""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import models

from registry.models import Identifier, Patient
from registry.selectors import patient_tables
from registry.selectors.patient_tables import rows_of
from registry.services import patients, triggers
from registry.services.enrolment import IdentifierGiven
from tests import builders, world
from tests.builders import NOW

TABLES = {table.name: table for table in patient_tables.patient_tables()}
# Watched tables that lead to no patient: those of places, people, rules, charts, meetings and files.
OF_NO_PATIENT = {
    *("registry_site", "registry_person", "registry_membership", "registry_importbatch"),
    *("registry_constructtype", "registry_implantmodel", "registry_hospitaldoor"),
    *("registry_retentionrule", "registry_destruction"),
    *("registry_safetynotice", "registry_noticescope", "registry_noticeclosing"),
}


def test_every_watched_table_of_the_registry_leads_to_a_patient_or_is_about_none() -> None:
    watched = {
        model._meta.db_table
        for model in triggers.audited_models()
        if model._meta.app_label == "registry"
    }
    assert watched - set(TABLES) >= OF_NO_PATIENT
    strays = {name for name in watched - set(TABLES) - OF_NO_PATIENT if "sign" not in name}
    assert not strays, f"{strays}: is it about a patient or not?"


def leads_to_patients(model: type[models.Model], seen: frozenset[Any] = frozenset()) -> bool:
    """Say, by brute force, whether any chain of links leads from a watched table to a patient."""
    for field in model._meta.concrete_fields:
        target: Any = field.related_model if field.is_relation else None
        if target is Patient:
            return True
        watched = target is not None and getattr(target, "audited", False)
        if watched and target not in seen and leads_to_patients(target, seen | {model}):
            return True
    return False


def test_no_way_to_a_patient_is_missed() -> None:
    wanted = {
        model._meta.db_table for model in triggers.audited_models() if leads_to_patients(model)
    }
    assert set(TABLES) == wanted | {"registry_patient"}


@pytest.mark.django_db
def test_the_rows_of_a_patient_are_theirs_alone_and_one_of_each_is_found(
    time_machine: Any, counted: Callable[[], Any]
) -> None:
    time_machine.move_to(NOW)
    builders.load_defaults()
    things = {code: world.one_of_each(code) for code in ("north", "south")}
    whose = Patient.objects.get(key=things["north"]["key"])
    with counted() as queries:
        found = rows_of(whose, [whose.site_id])
    assert len(queries) == 2
    assert len(found) > 30
    for table in TABLES.values():
        held = found.get(table.name, set())
        for way in table.to_patient:
            rows = table.model._base_manager.exclude(**{way: whose.pk})
            other = set(map(str, rows.values_list("pk", flat=True))) if way != "pk" else set()
            if len(table.to_patient) == 1:
                assert not held & other, table.name
    assert str(things["north"]["film_id"]) in found["followup_film"]
    assert str(things["north"]["alert_id"]) in found["analytics_lossalert"]
    assert str(things["south"]["film_id"]) not in found["followup_film"]


@pytest.mark.django_db
def test_what_is_of_another_site_is_left_out_and_names_are_shared() -> None:
    injury = builders.injury()
    found = rows_of(injury.patient, [builders.site("south").pk])
    assert "registry_injury" not in found
    assert "registry_identity" in found
    assert found["registry_patient"] == {str(injury.patient_id)}


@pytest.mark.django_db
def test_what_was_removed_is_still_theirs() -> None:
    patient, other = builders.patient(), builders.patient()
    by = patient.recorded_by
    number = patients.add_identifier(
        patient=patient,
        site=patient.site,
        given=IdentifierGiven("region", "R-1"),
        by=by,
    )
    key = str(number.pk)
    patients.remove_identifier(identifier=number, reason="typed twice", by=by, now=NOW)
    assert not Identifier.objects.filter(pk=key).exists()
    sites = [patient.site_id]
    assert key in rows_of(patient, sites)["registry_identifier"]
    assert key not in rows_of(other, sites)["registry_identifier"]
