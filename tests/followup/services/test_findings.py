"""Findings as part of a reading: kept through every correction, and one with its hardware."""

from datetime import date
from typing import Any

import pytest
from django.db import IntegrityError
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from followup.models import HardwareDecision, Reading, ReadingFinding, UnionRule
from followup.rules.findings import KINDS, Found
from followup.selectors.findings import found_in
from followup.services import films, findings, measuring, voiding
from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, Injury, Person, Procedure
from registry.services import records
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup import pictured

pytestmark = pytest.mark.django_db
DAY = date(2026, 9, 4)
BROKEN = Found("screw_broken", "present", place="lateral")
EROSION = Found("acromial_erosion", "present", 2)
WHOLE = Found("plate_broken", "absent")


def read(hurt: Injury, found: list[Found] | None = None, of: Any = None, **values: Any) -> Reading:
    at: dict[str, Any] = {"by": hurt.recorded_by, "now": NOW, "today": TODAY}
    facts = {"taken_on": DAY, "view": "zanca"}
    film = of or films.record_film(injury=hurt, values=facts, **at)
    return films.record_reading(
        film=film, values=values, reader=hurt.recorded_by, found=found, **at
    )


def test_findings_are_saved_with_the_reading_and_stand_in_the_trail() -> None:
    reading = read(builders.injury(), [BROKEN, EROSION, WHOLE], hardware="broken")
    assert found_in(reading) == (BROKEN, EROSION, WHOLE)
    row = reading.findings.first()
    assert (row.site, row.recorded_by, row.version) == (reading.site, reading.recorded_by, 1)
    assert str(row) == "Screw broken: there"
    trail = AuditEntry.objects.filter(table="followup_readingfinding")
    assert trail.count() == 3


def test_what_was_not_looked_for_has_no_row() -> None:
    assert not read(builders.injury(), hardware="intact").findings.exists()
    assert not read(builders.injury(), [], hardware="intact").findings.exists()


def test_hardware_that_was_not_said_follows_from_the_findings() -> None:
    assert read(builders.injury(), [BROKEN]).hardware == "broken"
    assert read(builders.injury(), [EROSION]).hardware == "unknown"


def test_hardware_that_contradicts_is_refused_and_nothing_is_saved() -> None:
    hurt = builders.injury()
    with pytest.raises(BadInput, match="Choose 'broken'"):
        read(hurt, [BROKEN], hardware="intact")
    with pytest.raises(
        BadInput, match="acromial_erosion: 'erosion of the acromion' needs its grade"
    ):
        read(hurt, [Found("acromial_erosion", "present")])
    assert not Reading.objects.exists()
    assert not ReadingFinding.objects.exists()


def test_a_correction_has_its_own_findings_and_the_earlier_keeps_those_it_had() -> None:
    hurt = builders.injury()
    first = read(hurt, [BROKEN, WHOLE], hardware="broken")
    second = read(hurt, [Found("screw_broken", "absent")], of=first.film, hardware="intact")
    assert found_in(first) == (BROKEN, WHOLE)
    assert found_in(second) == (Found("screw_broken", "absent"),)


def test_a_correction_that_says_nothing_of_findings_keeps_them() -> None:
    hurt = builders.injury()
    first = read(hurt, [BROKEN, EROSION], hardware="broken")
    second = read(hurt, of=first.film, translation_pct=20, hardware="broken")
    assert found_in(second) == (BROKEN, EROSION)
    with pytest.raises(BadInput, match="Choose 'broken'"):
        read(hurt, of=first.film, hardware="intact")


FOUND = st.sampled_from(sorted(KINDS)).flatmap(
    lambda kind: st.builds(
        Found,
        st.just(kind),
        st.sampled_from(["absent", "present", "not_assessable"]),
        st.just(None),
        st.just(""),
    ).map(lambda one: Found(kind, one.state, 3) if one.is_there and KINDS[kind].grades else one)
)
SETS = st.lists(FOUND, max_size=6, unique_by=lambda one: one.kind)


@settings(
    max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(steps=st.lists(st.one_of(SETS, st.just("again"), st.just("silent")), min_size=1, max_size=4))
def test_no_course_of_corrections_and_calibrations_loses_a_finding(
    db: None, steps: list[Any]
) -> None:
    shown = pictured.image(**pictured.HEADER)
    by, bridged = shown.recorded_by, {"cortices_bridged": 2, "fracture_line": "visible"}
    pictured.calibrate(shown)
    expected: list[Found] = []
    saved: list[tuple[int, list[Found]]] = []
    measured: dict[str, Any] = {"reader": by, "by": by, "now": NOW, "today": TODAY}
    measured |= {"image": shown, "points": pictured.POINTS, "values": bridged}
    for step in ([], *steps):
        if step == "again":
            pictured.calibrate(shown, "marker", diameter_mm=25, rim=pictured.RIM)
            measuring.measure_again(image=shown, by=by, now=NOW, today=TODAY)
            pictured.calibrate(shown)
            measuring.measure_again(image=shown, by=by, now=NOW, today=TODAY)
        elif step == "silent":
            hardware = Reading.objects.get(film=shown.film, superseded_by=None).hardware
            silent = {**measured, "values": {**bridged, "hardware": hardware}}
            measuring.record_measured(**silent)
        else:
            expected = step
            measuring.record_measured(found=step, **measured)
        reading = Reading.objects.get(film=shown.film, superseded_by=None)
        assert sorted(found_in(reading), key=str) == sorted(expected, key=str)
        assert (reading.cortices_bridged, reading.fracture_line) == (2, "visible")
        saved.append((reading.pk, expected))
    # What was superseded has what it had.
    for pk, had in saved:
        assert sorted(found_in(Reading.objects.get(pk=pk)), key=str) == sorted(had, key=str)


@pytest.mark.parametrize(
    "values",
    [
        {"kind": "screw_bent", "state": "present"},
        {"kind": "plate_broken", "state": "perhaps"},
        {"kind": "plate_broken", "state": "present", "grade": 2},
        {"kind": "acromial_erosion", "state": "present"},
        {"kind": "acromial_erosion", "state": "absent", "grade": 1},
        {"kind": "screw_broken", "state": "present", "place": "elsewhere"},
        {"kind": "screw_broken", "state": "absent", "place": "lateral"},
    ],
)
def test_the_database_refuses_what_is_no_finding(values: dict[str, Any]) -> None:
    reading = read(builders.injury(), [WHOLE], hardware="intact")
    row = reading.findings.get()
    with pytest.raises(IntegrityError):
        ReadingFinding.objects.filter(pk=row.pk).update(**values)


def test_a_kind_stands_once_in_a_reading() -> None:
    reading = read(builders.injury(), [WHOLE], hardware="intact")
    twice = ReadingFinding(reading=reading, site=reading.site, kind="plate_broken", state="absent")
    with pytest.raises(BadInput):
        records.create(twice, by=reading.recorded_by, now=NOW)


def test_with_its_injury_a_finding_falls() -> None:
    reading = read(builders.injury(), [BROKEN])
    by = reading.recorded_by
    voiding.void_of_injury(injury=reading.film.injury, reason="entered twice", by=by, now=NOW)
    assert not ReadingFinding.objects.exists()
    assert ReadingFinding.everything.get().void_reason == "entered twice"


def asked(operation: Procedure) -> list[str]:
    question = HardwareDecision.objects.get(procedure=operation)
    return [step.words for step in question.steps.order_by("id")]


@pytest.mark.usefixtures("defaults")
def test_each_finding_of_hardware_raises_its_removal_once() -> None:
    operation = builders.procedure()
    out = Found("screw_backed_out", "present", place="lateral")
    read(operation.injury, [out, EROSION], hardware="loose")
    assert asked(operation) == ["screw backed out, lateral on the film of 04 Sep 2026"]
    read(operation.injury, [out], hardware="loose")
    assert len(asked(operation)) == 1
    read(operation.injury, [out, BROKEN])
    assert asked(operation)[1] == "screw broken, lateral on the film of 04 Sep 2026"


@pytest.mark.usefixtures("defaults")
def test_findings_of_bone_and_absent_ones_ask_nothing() -> None:
    operation = builders.procedure()
    read(operation.injury, [EROSION, WHOLE, Found("ossification", "present")], hardware="intact")
    assert not HardwareDecision.objects.exists()


def rule(by: Person, least: int, version: int = 1) -> UnionRule:
    site = builders.site()
    row = UnionRule.objects.filter(site=site).first() or UnionRule(site=site)
    values = {"min_bridged_cortices": least}
    return findings.save_union_rule(rule=row, values=values, expected_version=version, by=by)


def test_a_rule_of_union_is_saved_over_the_version_that_was_seen(administrator: Person) -> None:
    assert rule(administrator, 2).version == 1
    assert rule(administrator, 4).version == 2
    with pytest.raises(StaleVersion):
        rule(administrator, 3)
    with pytest.raises(BadInput):
        rule(administrator, 5, version=2)
    assert UnionRule.objects.get().min_bridged_cortices == 4
