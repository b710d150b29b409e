"""Generating an invented service case by case, in constant memory and the same for the same seed."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import NamedTuple

from analytics.simulation import operations, people, returns, setting
from analytics.simulation.course import course_of
from analytics.simulation.draws import PERSON, TRANSLATION, Draws
from analytics.simulation.records import SimCase
from analytics.simulation.returns import Service
from analytics.simulation.translation import with_translation
from analytics.simulation.truth import TRUTH

SHARES = {code: truth.share for code, truth in TRUTH.items()}
SURGEONS = {"0": 0.6, "1": 0.4}
ELSEWHERE_SHARE, SAME_SIDE_SHARE, TYPED_AGAIN_SHARE = 0.2, 0.4, 0.35
WAIT_DAYS = 3.5
GOOD_DATES = {
    "injury_date": date(2025, 3, 1),
    "procedure_date": date(2025, 3, 6),
    "baseline_film_date": date(2025, 3, 7),
    "f6w_date": date(2025, 4, 17),
}
# Where something is mistyped, what is written there, what is wrong, and the column that is named.
MISTYPED = (
    ("procedure_date", "2025-02-01", "before the injury", "procedure_date"),
    ("birth_date", "2025-03-03", "born after the injury", "injury_date"),
    ("construct_type", "PLATE-9", "no such construct type", "construct_type"),
    ("injury_date", "2025-02-30", "no such day", "injury_date"),
    ("procedure_date", "2025-03", "the day is missing", "procedure_date"),
    ("birth_date", "03/04/25", "can be read in two ways", "birth_date"),
    ("f6w_date", "2125-04-17", "in the future", "f6w_date"),
    ("f6w_abduction_deg", "240", "further than a shoulder goes", "f6w_abduction_deg"),
    ("f6w_pain", "11", "beyond the end of the scale", "f6w_pain"),
    ("baseline_ccd_injured_mm", "910", "longer than a shoulder", "baseline_ccd_injured_mm"),
    ("baseline_ccd_injured_mm", "9,1 cm", "not a number", "baseline_ccd_injured_mm"),
    ("local_id", "", "no identifier", "local_id"),
    ("family_name", "", "no name", "family_name"),
    ("side", "middle", "no such side", "side"),
    ("neer", "VII", "no such class", "neer"),
    ("film_view", "", "the view is missing", "baseline_view"),
    ("film_calibration", "", "a length without a scale", "baseline_ccd_injured_mm"),
)


def generate(
    procedures: int, *, sites: int, seed: int, until: date, years: int = setting.DEMO_YEARS
) -> Iterator[SimCase]:
    """Yield the cases of an invented service, oldest operation first.

    Each case has a random stream made from the seed and its number, so that no case depends on how
    many were taken before it. Raises ValueError unless there is at least one procedure, one site
    and one year.
    """
    if min(procedures, sites, years) < 1:
        raise ValueError(
            f"need at least one procedure, site and year; got {procedures}, {sites} and {years}"
        )
    service = Service(procedures, sites, seed, until, years)
    return (_case(service, number) for number in range(procedures))


def _case(service: Service, number: int) -> SimCase:
    rng = service.stream(number)
    operated = service.day_of(number + rng.random())
    code = rng.pick(SHARES)
    first = returns.first_case(service, number)
    who = returns.person_of(service, first)
    a_year = service.procedures / service.years / service.sites
    case = _enrolled(rng, service, number, who, code, operated)
    stays = first != number or returns.comes_back(service, number)
    case = course_of(rng, case, service.until, stays=stays, a_year=a_year)
    return with_translation(service.stream(number, TRANSLATION), case)


def _enrolled(
    rng: Draws, service: Service, number: int, who: people.Person, code: str, operated: date
) -> SimCase:
    site = who.home
    again = False
    known = who.identity
    if who.number != number:
        if rng.chance(ELSEWHERE_SHARE):
            site = (site + 1) % service.sites
        again = rng.chance(TYPED_AGAIN_SHARE)
        known = people.typed_again(rng, known) if again else known
    wait = 1 + int(rng.exponential(WAIT_DAYS) + rng.exponential(WAIT_DAYS))
    injury, classes = people.injury(rng, operated - timedelta(days=wait), code)
    # The injury came before its operation, even where only its month is known.
    injury["injured_latest"] = min(injury["injured_latest"], operated)
    injury |= who.habits | _side(rng, who, number)
    operation = operations.operation(rng, operated, code)
    name = setting.site_name(site)
    return SimCase(
        number=number,
        site=site,
        surgeon=int(rng.pick(SURGEONS)),
        person=who.number,
        identity=known,
        identifiers=people.identifiers(site, name, who.number, again),
        consents=people.consents(rng, operated),
        injury=injury,
        classes=classes,
        operation=operation,
        construct=operations.construct(rng, code, site, operation),
        returns_to=None if who.number == number else who.number,
        typed_again=again,
    )


def _side(rng: Draws, who: people.Person, number: int) -> dict[str, str]:
    if who.number == number or rng.chance(SAME_SIDE_SHARE):
        return {"side": who.first_side}
    # The other shoulder of somebody who was operated on before is no longer a healthy reference.
    return {
        "side": "right" if who.first_side == "left" else "left",
        "other_shoulder": "operated_before",
    }


class BadRow(NamedTuple):
    """A row for a case import that breaks one rule: how in words, and the column to be named."""

    row: dict[str, str]
    wrong: str
    column: str


def bad_rows(columns: tuple[str, ...], *, seed: int = setting.DEMO_SEED) -> list[BadRow]:
    """Return rows for a case import, in the given columns, that each break one rule."""
    found = []
    for number, (mistyped, written, wrong, named) in enumerate(MISTYPED):
        row = _good_row(seed, number) | {mistyped: written}
        found.append(BadRow({name: row.get(name, "") for name in columns}, wrong, named))
    return found


def _good_row(seed: int, number: int) -> dict[str, str]:
    who = people.identity(Draws(seed, number, PERSON), number, GOOD_DATES["injury_date"])
    dates = {name: day.isoformat() for name, day in GOOD_DATES.items()}
    return {
        "local_id": f"BAD-{seed}-{number}",
        "family_name": who["family_name"],
        "given_name": who["given_name"],
        "birth_date": who["birth_earliest"].isoformat(),
        "sex": who["sex"],
        "injury_kind": "lateral_clavicle",
        "side": "left",
        "neer": "IIB",
        "construct_type": "LP",
        "film_view": "zanca",
        "film_calibration": "marker",
        "baseline_ccd_injured_mm": "9.1",
        "f6w_abduction_deg": "110",
        "f6w_pain": "3",
        **dates,
    }
