"""Bringing two entries of one person together, and parting them again."""

from datetime import date
from typing import Any

import pytest

from followup.models import ContactAttempt, Review, Unreachable
from followup.services import contacts
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models import (
    Consent,
    Identifier,
    Identity,
    Injury,
    Patient,
    PatientMerge,
    PatientSite,
    TwoPeople,
)
from registry.selectors.visible import visible
from registry.services import erasure, merges, patients
from registry.services.enrolment import ConsentGiven
from tests import builders, hospital, world
from tests.builders import NOW, TODAY
from tests.exported import exported

pytestmark = pytest.mark.django_db
BOOKKEEPING = ("version", "changed_at", "changed_by_id")


def merge(kept: Patient, merged: Patient, **changes: Any) -> PatientMerge:
    given: dict[str, Any] = {
        "reason": "same passport",
        "kept_version": kept.version,
        "merged_version": merged.version,
        "by": builders.person("recorder"),
        "now": NOW,
    }
    return merges.merge_patients(kept=kept, merged=merged, **{**given, **changes})


def unmerge(one: PatientMerge) -> Patient:
    return merges.unmerge_patients(
        merge=PatientMerge.objects.get(pk=one.pk),
        by=builders.person("recorder"),
        now=NOW,
    )


def state() -> dict[str, list[dict[str, Any]]]:
    """Return every row that a merge could touch, without what only counts changes."""
    kinds = (Patient, Identity, Identifier, PatientSite, Injury, Consent, Review, ContactAttempt)
    return {
        kind.__name__: [
            {name: value for name, value in row.items() if name not in BOOKKEEPING}
            for row in kind._base_manager.order_by("pk").values()
        ]
        for kind in kinds
    }


def decided(patient: Patient) -> None:
    patients.add_consent(
        patient=patient,
        site=patient.site,
        given=ConsentGiven("contact", "opted_out", date(2026, 6, 2), "letter"),
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )


def two_entries() -> tuple[Patient, Patient]:
    """Return two entries of one person, at two sites, the second with everything."""
    kept = builders.patient()
    merged = builders.patient(at=builders.site("south"), refused_means=["text"])
    builders.procedure(builders.injury(merged))
    decided(merged)
    return kept, merged


def test_injuries_numbers_consents_and_sites_move_to_the_kept_patient() -> None:
    kept, merged = two_entries()
    merge(kept, merged)
    assert kept.injuries.count() == 1
    assert kept.identifiers.count() == 2
    assert kept.consents.count() == 1
    assert {row.site.code for row in kept.at_sites.all()} == {"north", "south"}
    assert Patient.objects.get(pk=merged.pk).merged_into == kept


def test_both_identities_stay_but_only_the_kept_one_is_seen() -> None:
    kept, merged = two_entries()
    merge(kept, merged)
    everywhere = builders.person("all", north="surgeon", south="surgeon")
    assert Identity.objects.count() == 2
    assert list(visible(everywhere, Patient)) == [kept]
    assert [row.patient for row in visible(everywhere, Identity)] == [kept]


def test_means_refused_in_either_entry_are_refused_from_now_on() -> None:
    kept, merged = two_entries()
    merge(kept, merged)
    assert Identity.objects.get(patient=kept).refused_means == ["text"]


def test_undoing_gives_back_exactly_what_was_taken() -> None:
    kept, merged = two_entries()
    before = state()
    one = merge(kept, merged)
    assert state() != before
    unmerge(one)
    assert state() == before
    done = PatientMerge.objects.get()
    assert (done.undone_at, done.undone_by) == (NOW, builders.person("recorder"))


@pytest.mark.usefixtures("defaults")
def test_contact_attempts_follow_the_merge_and_its_undoing() -> None:
    kept, merged = builders.patient(), builders.patient()
    operation = builders.procedure(builders.injury(merged))
    contacts.record_attempt(
        review=operation.reviews.first(),
        means="phone",
        outcome="no_answer",
        note="",
        by=merged.recorded_by,
        now=NOW,
    )
    before = state()
    one = merge(kept, merged)
    assert ContactAttempt.objects.get().patient == kept
    unmerge(one)
    assert state() == before


def test_what_was_added_after_the_merge_stays_with_the_kept_patient() -> None:
    kept, merged = two_entries()
    one = merge(kept, merged)
    later = builders.injury(Patient.objects.get(pk=kept.pk))
    unmerge(one)
    assert list(kept.injuries.all()) == [later]
    assert merged.injuries.count() == 1


def test_a_refusal_changed_after_the_merge_is_left_alone_by_undoing() -> None:
    kept, merged = two_entries()
    one = merge(kept, merged)
    Identity.objects.filter(patient=kept).update(refused_means=["text", "email"])
    unmerge(one)
    assert Identity.objects.get(patient=kept).refused_means == ["text", "email"]


def test_a_merge_is_undone_once() -> None:
    one = merge(*two_entries())
    unmerge(one)
    with pytest.raises(IllegalTransition, match="'undone'"):
        unmerge(one)


def test_a_merge_followed_by_another_is_undone_in_reverse_order() -> None:
    first, second, third = (builders.patient() for _ in range(3))
    earlier = merge(second, third)
    second.refresh_from_db()
    later = merge(first, second)
    with pytest.raises(IllegalTransition, match="undo that first"):
        unmerge(earlier)
    unmerge(later)
    assert unmerge(earlier) == third


def test_after_undoing_the_same_two_can_be_merged_again() -> None:
    kept, merged = two_entries()
    unmerge(merge(kept, merged))
    kept.refresh_from_db()
    merged.refresh_from_db()
    merge(kept, merged)
    assert kept.injuries.count() == 1


def test_a_patient_cannot_be_merged_into_itself() -> None:
    one = builders.patient()
    with pytest.raises(BadInput, match="into itself"):
        merge(one, one)


def test_a_merge_without_a_reason_is_refused() -> None:
    with pytest.raises(BadInput, match="Say how you know"):
        merge(*two_entries(), reason=" ")


def test_a_merged_patient_cannot_be_merged_again() -> None:
    kept, merged = two_entries()
    merge(kept, merged)
    with pytest.raises(BadInput, match="merged already"):
        merge(builders.patient(), Patient.objects.get(pk=merged.pk))


def test_a_merge_over_a_newer_version_of_either_is_refused_whole() -> None:
    kept, merged = two_entries()
    before = state()
    with pytest.raises(StaleVersion):
        merge(kept, merged, merged_version=7)
    assert state() == before


def test_entries_in_different_states_are_not_merged_until_the_true_one_is_set_on_both() -> None:
    kept, merged = two_entries()
    end(merged, "died")
    with pytest.raises(BadInput, match="is 'died'"):
        merge(kept, merged)
    end(kept, "died")
    merge(kept, merged)
    assert kept.injuries.count() == 1


def test_an_erased_patients_merge_cannot_be_undone() -> None:
    kept, merged = two_entries()
    one = merge(kept, merged)
    erasure.erase_patient(
        patient=Patient.objects.get(pk=kept.pk),
        reason="asked",
        by=kept.recorded_by,
        now=NOW,
        today=TODAY,
    )
    with pytest.raises(IllegalTransition, match="'erased'"):
        unmerge(one)


def test_saying_that_two_are_different_people_twice_changes_nothing() -> None:
    one, other = builders.patient(), builders.patient()
    for first, second in ((one, other), (other, one)):
        merges.say_two_people(one=first, other=second, by=one.recorded_by, now=NOW)
    said = TwoPeople.objects.get()
    assert (said.first, said.second) == (one, other)


def test_one_entry_is_not_two_people() -> None:
    one = builders.patient()
    with pytest.raises(BadInput, match="not two"):
        merges.say_two_people(one=one, other=one, by=one.recorded_by, now=NOW)


def end(patient: Patient, status: str) -> None:
    patients.change_status(
        patient=patient,
        status=status,
        on=date(2026, 11, 10),
        note="",
        expected_version=patient.version,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )


# What links to a patient and goes to the one that is kept, and what stays on purpose.
GOES = {
    *("registry_injury", "registry_consent", "registry_identifier", "registry_patientsite"),
    *("registry_alternativecontact", "followup_contactattempt", "followup_message"),
    *("followup_task", "followup_unreachable", "followup_reply_patients", "followup_hospitalslot"),
    "registry_retentionhold",
}
STAYS = {
    "registry_identity": "both stay as they were; the kept one is seen",
    "registry_patient": "says into whom it was merged",
    "registry_patientmerge": "what was done",
    "registry_recordmove": "what was done",
    "registry_twopeople": "what was said",
    "registry_emergencyaccess": "which entry was opened",
    "registry_hospitalmessage": "whom it was about when it came",
    "registry_hospitalrecord": "what was said of that number",
    "followup_importpair": "whom a row of a file was laid beside",
}


def test_every_model_that_links_to_a_patient_goes_along_or_stays_on_purpose() -> None:
    relations: Any = Patient._meta.get_fields(include_hidden=True)
    linking = {
        one.field.model._meta.db_table
        for one in relations
        if one.auto_created and not one.concrete and (one.one_to_many or one.one_to_one)
    }
    assert linking - GOES - set(STAYS) == set(), "say above what a merge does with it, and do it"


@pytest.mark.usefixtures("defaults")
def test_a_merge_of_everything_and_its_undoing_leave_every_table_as_it_was() -> None:
    things = world.one_of_each("north")
    merged = Patient.objects.get(key=things["key"])
    kept = builders.patient(at=builders.site("south"))
    stamps = {
        **{"site": kept.site, "recorded_at": NOW, "changed_at": NOW},
        **{"recorded_by": kept.recorded_by, "changed_by": kept.recorded_by},
    }
    Unreachable.objects.create(patient=merged, since=TODAY, reason="moved house", **stamps)
    hospital.taken(
        hospital.adt(
            "A08",
            merged.identifiers.earliest("pk").value,
            family="Quillfeather",
            given="Brisa",
            born="19620419",
        )
    )
    before = exported()
    one = merge(kept, merged)
    changed = {table for table, digest in exported().items() if digest != before[table]}
    assert GOES - {"followup_hospitalslot"} <= changed
    unmerge(one)
    assert exported() == before


def test_where_both_are_out_of_reach_the_kept_entry_is_so_once() -> None:
    kept, merged = builders.patient(), builders.patient()
    stamps = {
        **{"site": kept.site, "recorded_at": NOW, "changed_at": NOW},
        **{"recorded_by": kept.recorded_by, "changed_by": kept.recorded_by},
    }
    for patient in (kept, merged):
        Unreachable.objects.create(patient=patient, since=TODAY, reason="x", **stamps)
    one = merge(kept, merged)
    assert Unreachable.objects.filter(patient=kept).count() == 1
    unmerge(one)
    assert Unreachable.objects.filter(patient=merged).count() == 1
