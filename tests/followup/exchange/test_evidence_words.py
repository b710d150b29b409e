import pytest

from followup.exchange.evidence_words import pages_of
from followup.selectors import carriers
from registry.models import NoticeCarrier
from registry.selectors import reconciliation
from registry.services import safety_notices
from tests import builders
from tests.builders import NOW, TODAY
from tests.implanted import notice, part

pytestmark = pytest.mark.django_db


def test_the_pages_have_the_sums_and_every_step_with_its_author() -> None:
    row = part(batch="LOT42A")
    saved = notice()
    safety_notices.take_step(
        carrier=NoticeCarrier.objects.get(),
        step="unreachable",
        on=TODAY,
        note="moved house",
        expected_version=1,
        by=saved.owner,
        now=NOW,
    )
    looker = builders.person("looker", north="quality_lead")
    sums = reconciliation.reconciliation(looker, saved)
    rows = reconciliation.with_steps(reconciliation.carriers_seen(looker, saved))
    pages = pages_of(
        notice=saved,
        about=["batch LOT42A"],
        sums=sums,
        total=reconciliation.total(sums),
        lines=carriers.lines_of(looker, list(rows)),
        more=True,
        who="Looker",
        now=NOW,
    )
    (line,) = pages.steps.rows
    assert line[0] == row.construct.procedure.injury.patient.key
    assert "could not be reached, moved house (Keeper, 25 Nov 2026" in line[4]
    assert len(pages.sums.rows[0]) == len(pages.sums.head)
    assert pages.sums.rows[0][1] == "1"
    assert "more people than these pages hold" in pages.agrees
