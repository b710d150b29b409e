from datetime import timedelta

import pytest

from analytics.models import Signal
from analytics.selectors import signals as selector
from analytics.services import signals as service
from registry.models import Site
from tests import builders
from tests.analytics import monitored
from tests.builders import NOW, TODAY


@pytest.fixture
def site(db: None) -> Site:
    return builders.site()


def test_what_is_longest_past_its_day_stands_on_top(site: Site) -> None:
    monitored.signal(site)
    rows = list(Signal.objects.order_by("id"))
    assert len(rows) > 1
    for row, late in zip(rows, (3, 40), strict=False):
        Signal.objects.filter(pk=row.pk).update(due_on=TODAY - timedelta(days=late))
    lead = monitored.lead()
    assert list(selector.open_signals(lead))[:2] == [rows[1], rows[0]]
    late = selector.late(lead, TODAY)
    assert late is not None
    assert (late.number, late.oldest, late.words) == (2, rows[1], "40 days late")


def test_nothing_is_late_before_its_day_nor_after_its_end(site: Site) -> None:
    row = monitored.signal(site)
    lead = monitored.lead()
    assert selector.late(lead, row.due_on) is None
    assert selector.late(lead, row.due_on + timedelta(days=1)) is not None
    for one in Signal.objects.all():
        monitored.found(one)
        service.close(signal=one, words="done", by=one.owner, now=NOW, expected_version=one.version)
    assert selector.late(lead, row.due_on + timedelta(days=1)) is None
    assert not selector.open_signals(lead).exists()
    assert selector.signals(lead).count() == Signal.objects.count()


def test_a_person_sees_the_signals_of_the_own_sites(site: Site) -> None:
    monitored.signal(site)
    outsider = builders.person("otto", south="quality_lead+surgeon")
    assert not selector.signals(outsider).exists()
    assert selector.late(outsider, TODAY + timedelta(days=400)) is None
    assert selector.signals(builders.person("selma", north="surgeon")).exists()
    assert not selector.signals(builders.person("connie", north="coordinator")).exists()


def test_the_course_of_a_signal_has_its_checks_steps_and_what_comes_next(site: Site) -> None:
    row = monitored.checked(monitored.signal(site), but=("coding",))
    course = selector.course(row)
    assert set(course.checks) == {"completeness", "case_mix"}
    assert [step.kind for step in course.steps] == ["raised", "check", "check"]
    assert course.acts == ()
    monitored.checked(row, but=("completeness", "case_mix"))
    assert selector.course(row).acts == ("begin_review", "write_finding")


def test_the_last_look_at_each_check_is_found_whatever_it_was_for(site: Site) -> None:
    lead = monitored.lead()
    for finding in ("first", "second"):
        service.look_at_data(
            site=site,
            subject="coding",
            verdict="sound",
            finding=finding,
            facts={"cases": "3"},
            operated_from=None,
            operated_to=TODAY,
            by=lead,
            now=NOW,
        )
    looks = selector.last_looks(lead, [site])
    assert {subject: row.finding for subject, row in looks.items()} == {"coding": "second"}
    assert selector.last_looks(monitored.lead("south"), [site]) == {}
