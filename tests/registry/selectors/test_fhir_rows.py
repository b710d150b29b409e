from datetime import datetime, timedelta
from typing import cast

import pytest

from registry.exchange.fhir import terms
from registry.models import Patient
from registry.selectors import fhir_rows
from registry.services import enrolment, implant_models, implants, merges, patients, records
from tests import builders
from tests.builders import NOW, TODAY
from tests.fhir_rows import lead, surgeon_sees

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=5)
HOUR = timedelta(hours=1)


def test_a_reader_sees_facts_where_patients_are_seen_or_data_may_be_taken() -> None:
    north, south = builders.site("north"), builders.site("south")
    both = fhir_rows.reader(builders.person("both", north="surgeon", south="quality_lead"))
    assert both.facts == tuple(sorted((north.pk, south.pk)))
    assert both.personal == (north.pk,)
    assert both.names == frozenset({north.pk})
    reads = fhir_rows.reader(builders.person("reads", north="film_reader"))
    assert (reads.facts, reads.own_films) == ((), (north.pk,))


def test_a_taker_takes_where_data_may_be_taken_and_names_where_both_are_held() -> None:
    north, south = builders.site("north"), builders.site("south")
    seer = fhir_rows.taker(
        builders.person("takes", north="quality_lead+surgeon", south="quality_lead")
    )
    assert seer.facts == tuple(sorted((north.pk, south.pk)))
    assert seer.personal == (north.pk,)
    assert seer.names == frozenset({north.pk})
    assert fhir_rows.taker(builders.person("surgeon", north="surgeon")).facts == ()


def test_rows_of_other_sites_are_not_there() -> None:
    builders.procedure(builders.injury(builders.patient(builders.site("south"))))
    seer = fhir_rows.reader(builders.person("here", north="surgeon"))
    for rows in (
        fhir_rows.patients,
        fhir_rows.injuries,
        fhir_rows.procedures,
        fhir_rows.parts,
    ):
        assert not rows(seer).exists()


def test_a_corrected_name_moves_when_the_patient_changed() -> None:
    person = builders.patient()
    before = fhir_rows.patients(surgeon_sees()).get(pk=person.pk).updated
    patients.correct_identity(
        identity=person.identity,
        values={"family_name": "Other"},
        expected_version=1,
        by=person.recorded_by,
        now=LATER,
        today=TODAY,
    )
    assert fhir_rows.patients(surgeon_sees()).get(pk=person.pk).updated > before


def test_a_number_that_comes_or_goes_moves_when_the_patient_changed() -> None:
    person = builders.patient()
    by = person.recorded_by

    def updated() -> datetime:
        return cast("datetime", fhir_rows.patients(surgeon_sees()).get(pk=person.pk).updated)

    before = updated()
    given = enrolment.IdentifierGiven("national number", "42")
    number = patients.add_identifier(patient=person, site=person.site, given=given, by=by)
    added = updated()
    assert added > before
    patients.remove_identifier(identifier=number, reason="wrong", by=by, now=added + HOUR)
    assert updated() == added + HOUR


def test_a_parted_merge_moves_when_the_kept_patient_changed() -> None:
    kept, other = builders.patient(), builders.patient()
    merge = builders.merged(kept, other)
    together = fhir_rows.patients(surgeon_sees()).get(pk=kept.pk).updated
    merges.unmerge_patients(merge=merge, by=kept.recorded_by, now=together + HOUR)
    assert fhir_rows.patients(surgeon_sees()).get(pk=kept.pk).updated == together + HOUR


def test_an_article_that_is_described_moves_when_its_parts_changed() -> None:
    operation = builders.procedure()
    by = operation.recorded_by
    part = implants.add_part(
        construct=operation.construct,
        given=implants.PartGiven("plate", "", device_identifier="09506000134352"),
        by=by,
        now=NOW,
    )
    before = fhir_rows.parts(surgeon_sees()).get()
    assert (before.updated, terms.version_of(before)) == (NOW, "1")
    implant_models.describe_draft(
        draft=part.implant_model,
        kind="plate",
        description="plate, six holes",
        catalogue_number="C-6",
        by=by,
        now=NOW,
    )
    after = fhir_rows.parts(surgeon_sees()).get()
    assert after.updated > before.updated
    assert terms.version_of(after) != "1"


def test_names_are_prefetched_only_where_they_may_be_seen() -> None:
    builders.patient()
    row = fhir_rows.patients(surgeon_sees()).get()
    assert (len(row.named_at), len(row.numbers_seen)) == (1, 1)
    row = fhir_rows.patients(fhir_rows.taker(lead())).get()
    assert (row.named_at, row.numbers_seen) == ([], [])


def test_a_later_class_part_or_removal_moves_what_it_belongs_to() -> None:
    operation = builders.procedure()
    by, seer = operation.recorded_by, surgeon_sees()
    enrolment.classify(
        injury=operation.injury, system="neer", code="V", opinion_of=None, by=by, now=LATER
    )
    assert fhir_rows.injuries(seer).get().updated == LATER
    part = implants.add_part(
        construct=operation.construct,
        given=implants.PartGiven("plate", "plate"),
        by=by,
        now=LATER,
    )
    assert fhir_rows.procedures(seer).get(pk=operation.pk).updated == LATER
    records.void(part, by=by, now=LATER, expected_version=1, reason="wrong")
    assert not fhir_rows.parts(seer).exists()
    assert fhir_rows.parts(seer, voided=True).get().updated == LATER


def test_a_merged_patient_is_found_by_the_old_key_by_who_sees_the_kept_one() -> None:
    kept, other = builders.patient(), builders.patient()
    builders.merged(kept, other)
    assert list(fhir_rows.patients(surgeon_sees())) == [Patient.objects.get(pk=kept.pk)]
    assert fhir_rows.merged_patient(surgeon_sees(), other.key) == other
    outsider = fhir_rows.reader(builders.person("out", south="surgeon"))
    assert fhir_rows.merged_patient(outsider, other.key) is None
    assert fhir_rows.merged_patient(surgeon_sees(), kept.key) is None


def test_numbers_are_searched_only_where_names_are_seen() -> None:
    person = builders.patient()
    value = person.identifiers.get().value
    seer, masked = surgeon_sees(), fhir_rows.reader(lead())
    of_site = {person.site_id: "hospital number"}
    assert fhir_rows.with_number(seer, None, value).get() == {"patient_id": person.pk}
    assert fhir_rows.with_number(seer, of_site, value).exists()
    assert not fhir_rows.with_number(seer, {person.site_id: "other"}, value).exists()
    assert not fhir_rows.with_number(masked, None, value).exists()
    assert fhir_rows.named_patients(seer).exists()
    assert not fhir_rows.named_patients(masked).exists()
