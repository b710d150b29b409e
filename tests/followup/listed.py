"""Reviews that are due, for the tests of the Due list and what is done from it."""

from datetime import date
from typing import Any

from followup.models import Review
from followup.services import reviews
from registry.models import Procedure
from tests import builders
from tests.builders import NOW, TODAY

# A Tuesday inside the window of everybody who is due here.
TUESDAY = date(2026, 12, 1)


def due(
    name: str = "Quill",
    site: str = "north",
    step: str = "6m",
    construct: str = "LP",
    **identity: Any,
) -> Review:
    """Return the review of a new patient that is due on 5 December, its window open since 5 November."""
    whose = builders.patient(builders.site(site), family_name=name, **identity)
    operation: Procedure = builders.procedure(
        of=builders.injury(of=whose), construct={"construct_type": construct}
    )
    reviews.lapse_closed(by=operation.recorded_by, now=NOW, today=TODAY)
    found: Review = operation.reviews.get(step__code=step)
    return found
