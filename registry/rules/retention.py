"""How long each kind of record is kept: what a site can rule, and what the service does by itself.

No legal period stands here: each site enters its own, with the law or policy that it follows.
"""

from dataclasses import dataclass
from datetime import date, timedelta

YEARS, DAYS = "years", "days"


@dataclass(frozen=True)
class Kind:
    """A kind of record that a site rules about.

    `default` is how long it is kept where a site has no rule, None for as long as nobody decides.
    `floor` is the shortest that the service can do with; what the law asks is the site's to enter.
    """

    code: str
    name: str
    unit: str
    default: int | None
    floor: int
    longest: int
    what: str


KINDS = {
    one.code: one
    for one in (
        Kind(
            "patients",
            "Patients of whom nothing was heard",
            YEARS,
            None,
            1,
            150,
            "Nothing goes by itself: they are proposed to a person, who erases or keeps each.",
        ),
        Kind(
            "replies",
            "What patients wrote back",
            DAYS,
            None,
            30,
            36_500,
            "Number and text go once somebody has seen to it; that it came stays.",
        ),
        Kind(
            "uploads",
            "Files of cases that were sent for import",
            DAYS,
            7,
            1,
            90,
            "The file goes with what was found in it; what was imported stays.",
        ),
    )
}
# What goes by itself and is not a site's to rule: code, name, and how long.
HOSPITAL, SIGN_INS, COPIES = "hospital_texts", "sign_ins", "copies"
ALSO = {
    HOSPITAL: "Texts of the hospital's system",
    SIGN_INS: "Sign-ins and tries",
    COPIES: "Copies in FHIR that were asked for",
}


def faults_of(kind: Kind, keep: int, least: int | None) -> dict[str, str]:
    """Return by field why something cannot be kept so long; nothing where it can."""
    if not kind.floor <= keep <= kind.longest:
        return {
            "keep": f"{kind.name}: from {kind.floor} to {kind.longest} {kind.unit}, not {keep}."
        }
    if least is not None and keep < least:
        return {
            "keep": f"Law or policy ask for {least} {kind.unit} at least; {keep} would be too short."
        }
    return {}


def before(kind: Kind, keep: int, today: date) -> date:
    """Return the day before which records of a kind are past their time.

    Whole years go back to the same day, from 29 February to the 28th.
    """
    if kind.unit == DAYS:
        return today - timedelta(days=keep)
    year = today.year - keep
    if year < 1:
        return date.min
    try:
        return today.replace(year=year)
    except ValueError:
        return today.replace(year=year, day=28)


def so_long(kind: Kind, keep: int | None) -> str:
    """Write a time as a person says it."""
    if keep is None:
        return "for as long as nobody decides otherwise"
    return f"{keep} {kind.unit.removesuffix('s') if keep == 1 else kind.unit}"
