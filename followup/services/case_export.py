"""Taking the cases of a site out in the columns in which they can be taken in again."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import TextIO

from followup.selectors.exported_cases import HEADER, People, cases_of
from registry.exchange import sheets
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.models.sites import Site
from registry.selectors import alike
from registry.selectors.alike import CasePerson
from registry.services import audit
from registry.services.enrolment import HOSPITAL_NUMBER

TOLD = 50


@dataclass
class Written:
    """How many cases were written, and what of them has no place in the columns."""

    rows: int = 0
    left: list[str] = field(default_factory=list)


def lines(site: Site, written: Written, people: People) -> Iterator[str]:
    """Yield a CSV table of the cases of a site, line by line."""
    yield from sheets.csv_lines(HEADER, _rows(site, written, people))


def write(target: TextIO, site: Site) -> Written:
    """Write the cases of a site to a file, with who the patients are."""
    written = Written()
    target.writelines(lines(site, written, named))
    return written


def write_down(site: Site, *, names: bool, by: Person, now: datetime) -> None:
    """Note in the trail that somebody takes the cases of a site out."""
    audit.record_taken(
        by=by,
        table=Site._meta.db_table,
        row_id=str(site.pk),
        now=now,
        what=f"cases of {site.code} as a file, {'with' if names else 'without'} names",
    )


def named(site: Site, patients: Collection[int]) -> dict[int, CasePerson]:
    """Return who patients are, by the hospital's own number."""
    return alike.case_people(site, HOSPITAL_NUMBER, patients)


def unnamed(site: Site, patients: Collection[int]) -> dict[int, CasePerson]:
    """Return nobody: for those who may not see who patients are."""
    return {}


def _rows(site: Site, written: Written, people: People) -> Iterator[list[str]]:
    for case in cases_of(Procedure.objects.filter(site=site), people):
        written.rows += 1
        for said in case.left:
            if len(written.left) < TOLD:
                written.left.append(f"case {written.rows}: {said}")
        yield [case.cells.get(name, "") for name in HEADER]
