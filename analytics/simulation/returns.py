"""Who operated on when, and which case is of somebody who was operated on before."""

from dataclasses import dataclass
from datetime import date, timedelta

from analytics.simulation import people
from analytics.simulation.draws import CASE, PERSON, Draws

# Years after which people come back; every third case belongs to one of them.
GAPS_YEARS = (0.7, 1.2, 1.9)
COMES_BACK_SHARE = 0.1


@dataclass(frozen=True)
class Service:
    """What an invented service is made from: its size, its span in years, its seed, its last day."""

    procedures: int
    sites: int
    seed: int
    until: date
    years: int

    @property
    def days(self) -> int:
        """The length of the service's time in days."""
        return int(365.25 * self.years)

    def day_of(self, place: float) -> date:
        """Return the day at a place in the order of the cases; whole numbers are their starts."""
        return self.until - timedelta(days=self.days - int(self.days * place / self.procedures))

    def gap(self, number: int) -> int:
        """Return how many cases lie between a first case and its person's next one."""
        years = GAPS_YEARS[number % len(GAPS_YEARS)]
        thirds = round(self.procedures / self.years * years / len(GAPS_YEARS))
        return len(GAPS_YEARS) * max(1, thirds)

    def stream(self, number: int, kind: int = CASE) -> Draws:
        """Return the random stream of a case or of a person."""
        return Draws(self.seed, number, kind)


def first_case(service: Service, number: int) -> int:
    """Return the number of the case in which this case's person was first seen; mostly its own.

    Gaps are multiples of three, so that a case can follow one other only, and a case that follows
    is never followed. Nothing has to be remembered, however long the service.
    """
    gap = service.gap(number)
    before = number - gap
    if before >= 0 and _may_come_back(service, before) and _comes_back(service, before):
        return before
    return number


def comes_back(service: Service, number: int) -> bool:
    """Say whether a later case is of this case's person."""
    return (
        number + service.gap(number) < service.procedures
        and _may_come_back(service, number)
        and _comes_back(service, number)
    )


def person_of(service: Service, number: int) -> people.Person:
    """Return the person who was first seen in a case."""
    rng = service.stream(number, PERSON)
    rng.random()  # the place of `_comes_back`
    return people.person(rng, number, service.day_of(number), service.sites)


def _may_come_back(service: Service, number: int) -> bool:
    return number // service.gap(number) % 2 == 0


def _comes_back(service: Service, number: int) -> bool:
    return service.stream(number, PERSON).random() < COMES_BACK_SHARE
