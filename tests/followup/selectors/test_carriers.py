import pytest

from followup.selectors import carriers as lines
from registry.models import NoticeCarrier
from registry.selectors.reconciliation import carriers_seen, with_steps
from registry.services import safety_notices
from tests import builders
from tests.builders import NOW, TODAY
from tests.implanted import notice, part

pytestmark = pytest.mark.django_db


def test_a_line_says_who_why_and_what_was_done_last() -> None:
    row = part(batch="LOT42A")
    saved = notice()
    carrier = NoticeCarrier.objects.get()
    safety_notices.take_step(
        carrier=carrier,
        step="unreachable",
        on=TODAY,
        note="moved house",
        expected_version=1,
        by=saved.owner,
        now=NOW,
    )
    for held, named in (("coordinator", True), ("quality_lead", False)):
        looker = builders.person(held, north=held)
        (line,) = lines.lines_of(looker, list(with_steps(carriers_seen(looker, saved))))
        assert bool(line.name) is line.may_open is named
        assert line.latest is not None
        assert (line.latest.kind, line.latest.note) == ("unreachable", "moved house")
        assert line.patient == row.construct.procedure.injury.patient


def test_evidence_has_a_row_for_each_step_and_its_author() -> None:
    part(batch="LOT42A")
    saved = notice()
    carrier = NoticeCarrier.objects.get()
    safety_notices.take_step(
        carrier=carrier,
        step="reached",
        on=TODAY,
        note="=told(1)",
        expected_version=1,
        by=saved.owner,
        now=NOW,
    )
    looker = builders.person("looker", north="quality_lead")
    rows = [dict(zip(lines.HEADER, row, strict=True)) for row in lines.evidence(looker, saved)]
    assert [(row["step"], row["note"][:5], row["by"]) for row in rows] == [
        ("found", "1 x c", "Keeper"),
        ("reached", "=told", "Keeper"),
    ]
