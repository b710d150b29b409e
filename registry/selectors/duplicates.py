"""Pairs of patients who may be one person, found in the database page by page."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet

from registry.models.identities import Identifier, Identity
from registry.models.injuries import Injury
from registry.models.merges import PatientMerge, TwoPeople
from registry.models.patients import Patient
from registry.models.sites import Site
from registry.rules import matching
from registry.selectors.patients import as_person, in_words
from registry.selectors.visible import Viewer, visible


@dataclass(frozen=True)
class Pair:
    """Two entries that may be one person, with why in words and how likely."""

    one: Identity
    other: Identity
    because: str
    likely: bool


def alike(user: Viewer) -> QuerySet[Identity]:
    """Return the entries that have a later one like them, not yet said to be somebody else."""
    mine: QuerySet[Identity] = visible(user, Identity, "correct")
    later = mine.filter(patient_id__gt=OuterRef("patient_id"))
    told_apart = TwoPeople.objects.filter(
        first_id=OuterRef(OuterRef("patient_id")), second_id=OuterRef("patient_id")
    )
    later = later.exclude(Exists(told_apart))
    one_name = (
        Q(family_name__iexact=OuterRef("family_name"))
        | Q(given_name__iexact=OuterRef("given_name"))
        | Q(family_name__iexact=OuterRef("given_name"))
    )
    born = Q(birth_earliest=OuterRef("birth_earliest"), birth_latest=OuterRef("birth_latest"))
    # One search per index: joined by OR inside one search they would read the whole table each time.
    return mine.filter(
        Exists(later.filter(born & one_name))
        | Exists(later.filter(sort_name=OuterRef("sort_name"), sex=OuterRef("sex")))
        | Exists(later.filter(one_name, phone=OuterRef("phone")).exclude(phone=""))
    ).order_by("sort_name", "patient_id")


def pairs_of(user: Viewer, entries: Sequence[Identity]) -> list[Pair]:
    """Pair some entries with the later ones like them; the number of queries does not grow."""
    others = (
        visible(user, Identity, "correct")
        .filter(
            Q(birth_earliest__in={entry.birth_earliest for entry in entries})
            | Q(sort_name__in={entry.sort_name for entry in entries})
            | Q(phone__in={entry.phone for entry in entries if entry.phone})
        )
        .select_related("patient__site")
        .order_by("patient_id")
    )
    apart = _told_apart(entries)
    pairs = []
    for other in others:
        for entry in entries:
            if entry.patient_id >= other.patient_id:
                continue
            if (entry.patient_id, other.patient_id) in apart:
                continue
            match = matching.compare(as_person(entry), as_person(other))
            if match.verdict != "different":
                why = in_words(as_person(entry), other)
                pairs.append(Pair(entry, other, why, match.verdict == "same"))
    return sorted(pairs, key=lambda pair: (pair.one.sort_name, pair.one.pk, pair.other.pk))


def merges_here(user: Viewer) -> QuerySet[PatientMerge]:
    """Return the merges into patients that a person may see, the newest first."""
    return PatientMerge.objects.filter(kept__in=visible(user, Patient, "correct")).select_related(
        "kept__identity", "merged__identity", "merged_by", "undone_by"
    )


@dataclass(frozen=True)
class Beside:
    """One of two entries as it is laid beside the other."""

    patient: Patient
    numbers: tuple[str, ...]
    sites: tuple[str, ...]
    injuries: tuple[str, ...]


def beside(user: Viewer, patient: Patient) -> Beside:
    """Return what tells two entries apart: numbers, sites and injuries that the person may see."""
    numbers = visible(user, Identifier, "correct").filter(patient=patient)
    sites = Site.objects.filter(patients_here__patient=patient)
    injuries = visible(user, Injury, "correct").filter(patient=patient)
    return Beside(
        patient=patient,
        numbers=tuple(str(number) for number in numbers),
        sites=tuple(str(site) for site in sites),
        injuries=tuple(str(injury) for injury in injuries),
    )


def _told_apart(entries: Sequence[Identity]) -> set[tuple[int, int]]:
    return set(
        TwoPeople.objects.filter(first_id__in=[entry.patient_id for entry in entries]).values_list(
            "first_id", "second_id"
        )
    )
