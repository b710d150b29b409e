from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from followup.models import Film, UnionRule
from followup.rules.findings import KINDS, Found
from followup.selectors import findings as selector
from followup.services import films
from registry.models import Construct, Injury, Procedure
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
DAY = date(2026, 9, 4)


def film(hurt: Injury, on: date = DAY) -> Film:
    facts = {"taken_on": on, "view": "zanca"}
    at: dict[str, Any] = {"by": hurt.recorded_by, "now": NOW, "today": TODAY}
    return films.record_film(injury=hurt, values=facts, **at)


def built(code: str, of: Injury | None = None, **values: Any) -> Procedure:
    return builders.procedure(of, construct={"construct_type": code}, **values)


def fitting(of: Film, *, blind: bool = False) -> set[str]:
    return {kind.code for kind in selector.offered_on(of, blind=blind).fitting}


def test_a_film_is_asked_for_what_was_in_the_shoulder_on_its_day() -> None:
    fixed = built("HP")
    assert {"hook_migrated", "acromial_erosion"} <= fitting(film(fixed.injury))
    assert "anchor_moved" not in fitting(film(fixed.injury))
    before = film(fixed.injury, date(2026, 6, 4))
    assert fitting(before) == {"ossification", "ac_degeneration"}


def test_a_removal_leaves_the_marks_and_a_revision_brings_its_own() -> None:
    fixed = built("HP")
    out = {"kind": "implant_removal", "revises": fixed, "performed_on": date(2026, 8, 28)}
    builders.procedure(fixed.injury, **out)
    left = {"acromial_erosion", "ossification", "ac_degeneration"}
    assert fitting(film(fixed.injury)) == left
    assert "hook_migrated" in fitting(film(fixed.injury, date(2026, 7, 17)))
    again = {"kind": "revision_fixation", "revises": fixed, "performed_on": date(2026, 9, 1)}
    built("CC-B", fixed.injury, **again)
    assert "anchor_moved" in fitting(film(fixed.injury))


def test_a_construct_that_nobody_recorded_may_show_anything() -> None:
    fixed = builders.procedure()
    Construct.objects.filter(procedure=fixed).delete()
    assert fitting(film(fixed.injury)) == set(KINDS)


def test_who_reads_blind_learns_no_construct_from_what_is_offered() -> None:
    offers = [
        selector.offered_on(film(built(kind).injury), blind=True) for kind in ("HP", "CC-B", "LP")
    ]
    assert offers[0] == offers[1] == offers[2]
    before = film(builders.injury(), date(2026, 6, 4))
    assert selector.offered_on(before, blind=True) == offers[0]


def test_bridging_is_asked_of_fractures_and_of_everybody_who_reads_blind() -> None:
    torn = film(builders.injury(kind="ac_joint"))
    broken = film(builders.injury())
    assert [selector.counts_cortices(one, blind=False) for one in (torn, broken)] == [False, True]
    assert selector.counts_cortices(torn, blind=True)


def test_a_sites_rule_of_union_is_its_own_or_the_shipped_one() -> None:
    site = builders.site()
    assert selector.union_rule_of(site).min_bridged_cortices == 3
    UnionRule.objects.create(site=site, min_bridged_cortices=2)
    site.refresh_from_db()
    assert selector.union_rule_of(site).min_bridged_cortices == 2


def test_a_film_in_words_costs_no_query_and_tells_whose_reading_it_is(
    counted: Callable[[], Any],
) -> None:
    fixed = built("LP")
    shown = film(fixed.injury)
    films.record_reading(
        film=shown,
        values={"union": "united", "cortices_bridged": 2},
        found=[Found("screw_broken", "present"), Found("plate_broken", "absent")],
        reader=fixed.recorded_by,
        by=fixed.recorded_by,
        now=NOW,
        today=TODAY,
    )
    rows = Film.objects.select_related("site__union_rule")
    (fetched,) = rows.prefetch_related(selector.current_readings())
    with counted() as queries:
        (line,) = selector.lines_of(fetched)
    assert len(queries) == 0
    assert line == (
        "union: united (by the site's rule partly united: 2 of 4 cortices bridged, 3 asked for), "
        "2 of 4 cortices bridged, hardware: broken, screw broken, nothing else of 1 that was "
        f"looked for, read by {fixed.recorded_by}"
    )
