"""Unwanted events."""

from datetime import date
from typing import Any

import pytest

from followup import notices
from followup.models import Complication
from followup.services import complications
from registry.errors import BadInput
from registry.models import Procedure
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db

DAY = date(2026, 7, 17)


def recorded(of: Procedure | None = None, **values: Any) -> Complication:
    operation = of or builders.procedure()
    return complications.record_complication(
        procedure=operation,
        values={"kind": "infection_superficial", "detected_on": DAY, **values},
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_an_event_keeps_its_grade_relation_and_what_was_done() -> None:
    recorded(grade="II", relation="procedure", action="tablets for a week")
    kept = Complication.objects.get()
    assert (kept.grade, kept.relation, kept.action) == ("II", "procedure", "tablets for a week")
    assert kept.site == kept.procedure.site


def test_an_event_that_nobody_graded_yet_says_so() -> None:
    assert recorded().grade == "unknown"


def test_an_event_is_announced() -> None:
    heard: list[Complication] = []

    def hear(sender: object, complication: Complication, **kwargs: Any) -> None:
        heard.append(complication)

    notices.complication_recorded.connect(hear)
    event = recorded()
    notices.complication_recorded.disconnect(hear)
    assert heard == [event]


@pytest.mark.parametrize(
    ("values", "field", "says"),
    [
        ({"detected_on": date(2026, 11, 26)}, "detected_on", "2026-11-26 is in the future"),
        ({"detected_on": date(2026, 6, 4)}, "detected_on", "is before the operation it followed"),
        ({"kind": "bad luck"}, "kind", "not a valid choice"),
        ({"grade": "VI"}, "grade", "not a valid choice"),
    ],
)
def test_an_event_that_cannot_be_is_refused(values: dict[str, Any], field: str, says: str) -> None:
    with pytest.raises(BadInput) as refused:
        recorded(**values)
    assert says in refused.value.faults[field]
    assert not Complication.objects.exists()


@pytest.mark.parametrize(
    "values",
    [
        {"onset_earliest": date(2026, 7, 18), "onset_latest": date(2026, 7, 18)},
        {"onset_earliest": date(2026, 6, 1), "onset_latest": date(2026, 6, 4)},
        {"onset_earliest": date(2026, 7, 10)},
        {"resolved_on": date(2026, 7, 16)},
    ],
    ids=[
        "began after it was seen",
        "began before the operation",
        "one bound only",
        "over before it was seen",
    ],
)
def test_days_in_the_wrong_order_are_refused(values: dict[str, Any]) -> None:
    with pytest.raises(BadInput):
        recorded(**values)
    assert not Complication.objects.exists()


def test_an_onset_known_to_the_month_may_begin_before_the_operation() -> None:
    event = recorded(onset_earliest=date(2026, 6, 1), onset_latest=date(2026, 6, 30))
    assert event.onset_latest == date(2026, 6, 30)
