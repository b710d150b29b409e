"""An import whose cases a chart counts, or about whose alert somebody decided, is not taken back."""

from datetime import timedelta
from typing import Any

import pytest

from analytics.models import AlertPlan, ChartCase, LossAlert
from analytics.selectors import built_on
from analytics.services.alert_plans import acknowledge
from followup.services import import_undo
from registry.errors import BadInput
from registry.models import ImportBatch, Procedure
from tests import builders
from tests.analytics import monitored
from tests.analytics.losses import weigh
from tests.analytics.monitored import STARTS
from tests.analytics.records import calls_its_own, reading
from tests.builders import NOW, TODAY
from tests.followup.case_files import case
from tests.followup.sent_files import connie, landed, sent_ours

pytestmark = pytest.mark.usefixtures("defaults")


def imported(**cells: str) -> tuple[ImportBatch, Procedure]:
    batch = landed(sent_ours(case(1, **cells)))
    return batch, Procedure.objects.get(kind="fixation")


def charted(done: Procedure, design: Any, place: int = 0) -> None:
    ChartCase.objects.create(
        design=design,
        position=place,
        case_id=done.pk,
        performed_on=STARTS,
        outcome=False,
        expected=0.1,
        entered_on=TODAY,
    )


def refused(batch: ImportBatch) -> str:
    how: dict[str, Any] = {"by": connie(), "now": NOW + timedelta(days=1), "today": TODAY}
    with pytest.raises(BadInput, match="Something builds on this import") as told:
        import_undo.take_back(batch=batch, reason="of another hospital", **how)
    assert Procedure.objects.exists()
    return str(told.value)


def test_what_a_chart_counts_keeps_its_import() -> None:
    batch, done = imported()
    charted(done, monitored.design(builders.site()), place=3)
    assert "The chart 'Loss of reduction, North" in refused(batch)
    assert "counts a case of it at place 4." in refused(batch)


def test_a_signal_raised_at_a_case_is_named_with_it() -> None:
    batch, done = imported()
    raised = monitored.signal(builders.site())
    ChartCase.objects.filter(design=raised.design, position=raised.position).update(case_id=done.pk)
    assert f"a signal was raised at it on {NOW:%d %b %Y}" in refused(batch)


def alert_about(done: Procedure) -> LossAlert:
    calls_its_own("north")
    reading(done, 2, "9.0")
    reading(done, 90, "14.0")
    weigh()
    found: LossAlert = LossAlert.objects.get(procedure=done)
    return found


def test_an_alert_that_was_answered_keeps_its_import_and_one_that_waits_does_not() -> None:
    _, done = imported(injury_date="2026-06-01", procedure_date="2026-06-04")
    alert = alert_about(done)
    assert built_on.told([done.pk], 5) == []
    selma = builders.person("selma", north="surgeon")
    acknowledge(
        alert=alert,
        plan=AlertPlan.OBSERVE,
        due_on=TODAY + timedelta(days=14),
        note="",
        expected_version=alert.version,
        by=selma,
        now=NOW,
        today=TODAY,
    )
    (said,) = built_on.told([done.pk], 5)
    key = done.injury.patient.key
    assert said == f"Patient {key}: the alert 'lost' was answered on {NOW:%d %b %Y} by Selma."


def test_no_more_is_told_than_was_asked_for_and_nothing_of_other_cases() -> None:
    _, done = imported()
    charted(done, monitored.design(builders.site()))
    assert built_on.told([done.pk + 1], 5) == []
    assert built_on.told(Procedure.objects.values("pk"), 0) == []
    assert len(built_on.told(Procedure.objects.values("pk"), 5)) == 1
