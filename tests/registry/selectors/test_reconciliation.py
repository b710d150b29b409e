from typing import Any

import pytest

from registry.models import NoticeCarrier, Part, SafetyNotice
from registry.selectors import reconciliation as selector
from registry.services import safety_notices
from tests import builders
from tests.builders import NOW, TODAY
from tests.implanted import PLATE, notice, part

pytestmark = pytest.mark.django_db


@pytest.fixture
def looker() -> Any:
    return builders.person("looker", north="coordinator", east="quality_lead")


def step(row: Part, name: str) -> None:
    carrier = NoticeCarrier.objects.get(procedure=row.construct.procedure_id)
    safety_notices.take_step(
        carrier=carrier,
        step=name,
        on=TODAY,
        note="asked",
        expected_version=carrier.version,
        by=carrier.recorded_by,
        now=NOW,
    )


def several() -> SafetyNotice:
    """Five at one site, of whom one is seen, one decided; one at another; one out of sight."""
    here = [part(batch=one) for one in ("LOT42A", "LOT42A", "L0T42A", "LOT42A21S1", "")]
    for site in ("east", "far"):
        part(batch="LOT42A", at=builders.site(site))
    saved = notice()
    step(here[0], "reviewed")
    step(here[2], "is_none")
    return saved


def test_sums_are_by_site_apart_from_what_is_to_be_decided_and_add_up(looker: Any) -> None:
    sums = {one.site.code: one for one in selector.reconciliation(looker, several())}
    assert set(sums) == {"north", "east"}
    north = sums["north"]
    assert (north.carriers, north.near, north.not_excluded, north.not_one) == (2, 1, 1, 1)
    assert (north.states["reviewed"], north.states["to_reach"], north.left) == (1, 1, 3)
    assert {one.difference for one in sums.values()} == {0}
    total = selector.total(list(sums.values()))
    assert (total.carriers, sum(total.columns), total.left, total.difference) == (3, 3, 4, 0)


def test_a_list_of_notices_counts_what_one_sees_and_what_is_left(looker: Any) -> None:
    several()
    (row,) = selector.notices_seen(looker)
    assert (row.carrier_count, row.left_count) == (3, 4)


def test_carriers_come_with_their_steps_and_none_of_another_site(looker: Any) -> None:
    saved = several()
    rows = list(selector.with_steps(selector.carriers_seen(looker, saved)))
    assert len(rows) == 6
    assert {row.site.code for row in rows} == {"north", "east"}
    assert sorted(len(row.course) for row in rows) == [1, 1, 1, 1, 2, 2]
    assert list(selector.carriers_seen(looker)) == rows


def test_a_site_can_be_closed_by_whoever_keeps_notices_there_and_once(looker: Any) -> None:
    saved = several()
    assert [one.code for one in selector.closable_sites(looker, saved)] == ["east", "north"]
    east = builders.site("east")
    step(Part.objects.get(site=east), "reviewed")
    safety_notices.close_notice(notice=saved, site=east, note="", by=looker, now=NOW)
    assert [one.code for one in selector.closable_sites(looker, saved)] == ["north"]
    (closed,) = [one for one in selector.reconciliation(looker, saved) if one.closing]
    assert closed.site == east


def test_owners_are_those_who_may_trace_where_one_keeps_notices(looker: Any) -> None:
    surgeon = builders.person("selma", east="surgeon")
    builders.person("fred", east="film_reader")
    builders.person("zoe", far="coordinator")
    assert list(selector.owners_for(looker, TODAY)) == [looker, surgeon]


def test_a_line_is_told_in_words() -> None:
    saved = notice(
        {
            "device_identifier": PLATE,
            "batch_first": "L1",
            "batch_last": "L9",
            "serial_first": "S1",
            "expires_from": TODAY,
            "expires_to": TODAY,
        },
        {"catalogue_number": "P-6"},
    )
    assert [selector.line_words(line) for line in saved.scopes.all()] == [
        f"device identifier {PLATE}, batch L1 to L9, serial S1, expiring {TODAY} to {TODAY}",
        "catalogue number P-6",
    ]
