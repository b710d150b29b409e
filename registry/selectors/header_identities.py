"""Whom the header of a waiting file names, and who in the registry that may be."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from registry.models.identities import HeaderIdentity, Identity
from registry.models.patients import Patient
from registry.rules import matching
from registry.selectors.patients import Candidate, candidates
from registry.selectors.visible import Viewer, visible


@dataclass(frozen=True)
class Named:
    """What a header says of a person, and what the file was called."""

    number: str
    family_name: str
    given_name: str
    birth_date: date | None
    file_name: str

    @property
    def is_empty(self) -> bool:
        """Whether the header names nobody."""
        return not (self.number or self.family_name or self.given_name or self.birth_date)


NOBODY = Named("", "", "", None, "")


def named(user: Viewer, row_ids: Iterable[int | None]) -> dict[int, Named]:
    """Return what the headers say of persons, by their numbers, as far as the user may see it."""
    rows = visible(user, HeaderIdentity, "see_identity").filter(
        pk__in=[row_id for row_id in row_ids if row_id is not None]
    )
    return {
        row.pk: Named(row.number, row.family_name, row.given_name, row.birth_date, row.file_name)
        for row in rows
    }


def candidates_for(user: Viewer, who: Named) -> list[Candidate]:
    """Return the visible patients whom a header may mean, the likeliest first, with why."""
    if who.is_empty:
        return []
    return candidates(user, _person(who), [who.number])


def speaks_against(user: Viewer, who: Named, patient: Patient) -> bool:
    """Say whether a header names somebody whom matching takes for another than this patient."""
    if not (who.family_name or who.given_name or who.birth_date):
        return False
    row: Identity | None = visible(user, Identity, "see_identity").filter(patient=patient).first()
    if row is None:
        return True
    other = matching.Person(
        family_name=row.family_name,
        given_name=row.given_name,
        birth_date=row.birth_earliest if row.birth_earliest == row.birth_latest else None,
    )
    return matching.compare(_person(who), other).verdict == "different"


def _person(who: Named) -> matching.Person:
    return matching.Person(
        family_name=who.family_name, given_name=who.given_name, birth_date=who.birth_date
    )
