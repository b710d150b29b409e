"""Pairs of patients who may be one person, found in the database page by page."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.db.models import QuerySet
from django.db.models.functions import Lower

from registry.models.identities import Identifier, Identity
from registry.models.injuries import Injury
from registry.models.merges import PatientMerge
from registry.models.patients import Patient
from registry.models.sites import Site
from registry.rules import matching
from registry.selectors.patients import as_person, in_words
from registry.selectors.visible import Viewer, require, visible


@dataclass(frozen=True)
class Pair:
    """Two entries that may be one person, with why in words and how likely."""

    one: Identity
    other: Identity
    because: str
    likely: bool


# Entries are alike when all of these agree; each line is one join that the database can hash.
AGREEING = (
    "a.birth_earliest = b.birth_earliest AND a.birth_latest = b.birth_latest AND a.family = b.family",
    "a.birth_earliest = b.birth_earliest AND a.birth_latest = b.birth_latest AND a.given = b.given",
    "a.birth_earliest = b.birth_earliest AND a.family = b.given AND a.given = b.family",
    "a.sort_name = b.sort_name AND a.sex = b.sex",
    "a.phone = b.phone AND a.given = b.given AND a.phone <> ''",
)


JOIN = (
    "SELECT a.patient_id AS one, b.patient_id AS other "
    "FROM mine a JOIN mine b ON {agree} AND a.patient_id < b.patient_id"
)


class PossiblePairs:
    """The pairs of entries at a person's sites that are alike, the newest first; made for paging.

    Pairs that somebody said to be two people are left out. One query counts them, one takes a page.
    """

    def __init__(self, user: Viewer) -> None:
        """Take whose sites are searched.

        Raises NotAllowed for somebody without a site to search.
        """
        require(user, "correct")
        mine = visible(user, Identity, "correct").values(
            "patient_id",
            "birth_earliest",
            "birth_latest",
            "sort_name",
            "sex",
            "phone",
            family=Lower("family_name"),
            given=Lower("given_name"),
        )
        inner, self._values = mine.query.sql_with_params()
        joins = " UNION ".join(JOIN.format(agree=agree) for agree in AGREEING)
        self._alike = f"WITH mine AS ({inner}), alike AS ({joins})"

    def count(self) -> int:
        """Return how many pairs there are."""
        return int(self._rows("count(*)", "", ())[0][0])

    def __getitem__(self, wanted: slice) -> list[tuple[int, int]]:
        """Return a page of pairs of patient numbers."""
        limits = (wanted.stop - wanted.start, wanted.start)
        return self._rows("one, other", " ORDER BY other DESC, one DESC LIMIT %s OFFSET %s", limits)

    def _rows(self, what: str, end: str, limits: tuple[int, ...]) -> list[Any]:
        # Only names of our own columns are put together here; what was typed travels as values.
        query = (
            f"{self._alike} SELECT {what} FROM alike WHERE NOT EXISTS "  # noqa: S608 - our own names
            "(SELECT 1 FROM registry_twopeople t "
            f"WHERE t.first_id = alike.one AND t.second_id = alike.other){end}"
        )
        with connection.cursor() as cursor:
            cursor.execute(query, (*self._values, *limits))
            rows: list[Any] = cursor.fetchall()
        return rows


def pairs_of(user: Viewer, numbers: Sequence[tuple[int, int]]) -> list[Pair]:
    """Return the entries behind some pairs, in one query, with why they are alike."""
    rows = visible(user, Identity, "correct").filter(
        patient_id__in={number for pair in numbers for number in pair}
    )
    entries = {row.patient_id: row for row in rows.select_related("patient__site")}
    pairs = []
    for one, other in numbers:
        first, second = as_person(entries[one]), as_person(entries[other])
        likely = matching.compare(first, second).verdict == "same"
        pairs.append(Pair(entries[one], entries[other], in_words(first, entries[other]), likely))
    return pairs


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
