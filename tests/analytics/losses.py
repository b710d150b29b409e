"""Cases of this summer whose films were read, weighed as the worker weighs them."""

from typing import Any

from analytics.models import LossAlert
from analytics.services import loss_alerts
from registry.models import Person, Procedure
from tests import builders
from tests.analytics.records import calls_its_own, reading
from tests.builders import NOW, TODAY

FIRST_MM = "9.0"


def operated(site: str = "north", surgeon: Person | None = None, **values: Any) -> Procedure:
    """Return an operation of June 2026 with its first film, at a site that calls a definition its own."""
    calls_its_own(site)
    place = builders.site(site)
    hurt = builders.injury(builders.patient(at=place))
    done = builders.procedure(hurt, surgeon=surgeon, **values)
    reading(done, 2, FIRST_MM)
    return done


def weigh() -> dict[str, int]:
    """Do what the worker does every minute."""
    return loss_alerts.weigh_marked(now=NOW, today=TODAY)


def alerted(
    injured: str = "14.0", site: str = "north", surgeon: Person | None = None, day: int = 90
) -> LossAlert:
    """Return the alert about a case of which one more film was read."""
    done = operated(site, surgeon)
    reading(done, day, injured)
    weigh()
    found: LossAlert = LossAlert.objects.exclude(state="taken_back").get(procedure=done)
    return found
