"""What goes along with an operation, and what stays."""

from datetime import date

import pytest

from analytics.models import CaseToWeigh
from followup.models import Film, IncomingImage, MotionExam, Score
from followup.selectors.operation_moves import FOUND, choosable, offered, stays_behind
from followup.services import films, motion, scores
from registry.models import Classification, ForeignNumber, Injury, Procedure, RecordMove
from registry.selectors.moves import links_to
from registry.selectors.operation_moves import chain_of
from tests import builders, operations
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")

# Of what links to an injury: its operations go by themselves, what is found on it by its day (`FOUND`),
# and these are of the injury whatever is operated.
OF_THE_INJURY = {Classification, ForeignNumber, IncomingImage, CaseToWeigh, RecordMove}


def found_on_days(injury: Injury, *days: date) -> None:
    at = {"by": injury.recorded_by, "now": NOW, "today": TODAY}
    for day in days:
        films.record_film(injury=injury, values={"taken_on": day, "view": "zanca"}, **at)
        values = {"examined_on": day, "side": "left", "mode": "active", "flexion_deg": 90}
        motion.record_motion(injury=injury, values=values, **at)
        scores.record_score(injury=injury, instrument="pain_nrs", taken_on=day, total=3.0, **at)


def test_everything_that_links_to_an_injury_is_decided_on() -> None:
    decided = {model for model, _ in FOUND.values()} | OF_THE_INJURY | {Procedure}
    assert {link.model for link in links_to(Injury)} == decided, (
        "say in followup/selectors/operation_moves.py whether it goes with an operation"
    )
    assert {Film, MotionExam, Score} == {model for model, _ in FOUND.values()}


def test_what_was_found_from_its_day_to_the_next_that_stays_goes_along() -> None:
    operation = builders.procedure()
    operations.later(operation.injury, "washout", None, date(2026, 8, 1))
    found_on_days(operation.injury, date(2026, 6, 3), date(2026, 6, 5), date(2026, 8, 2))
    lines = choosable(operation.injury, chain_of(operation))
    assert [(one.words, one.goes) for one in lines if one.kind == "film"] == [
        ("Film: Zanca, 03 Jun 2026", False),
        ("Film: Zanca, 05 Jun 2026", True),
        ("Film: Zanca, 02 Aug 2026", False),
    ]
    words = [one.words for one in lines if one.goes]
    assert "Motion: left, active, 05 Jun 2026" in words
    assert any(text.startswith("Score: ") and text.endswith("05 Jun 2026") for text in words)
    assert lines[0].code == f"film:{lines[0].key}"


def test_what_could_go_is_another_once_something_was_recorded() -> None:
    operation = builders.procedure()
    before = offered(operation.injury)
    found_on_days(operation.injury, TODAY)
    assert offered(operation.injury) != before


def test_what_stays_is_named() -> None:
    operation = builders.procedure()
    operations.later(operation.injury, "washout", None, date(2026, 8, 1))
    ForeignNumber.objects.create(
        site=operation.site, system="urn:x", value="1", injury=operation.injury, kept_at=NOW
    )
    assert stays_behind(operation.injury, chain_of(operation)) == [
        "The injury itself: Fracture of the lateral clavicle, its date, mechanism and risks",
        "Class: Neer IIB",
        "Operation: Debridement or washout, 01 Aug 2026",
        "1 number of another system",
    ]
