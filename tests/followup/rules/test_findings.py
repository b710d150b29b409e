"""Kinds of findings, what fits a construct, and what a reading's hardware may say beside them."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.models.films import HardwareOnFilm
from followup.models.findings import FindingKind, FindingState
from followup.rules import findings
from followup.rules.findings import CORACOID, HOOK, KINDS, PLATE, SCREWS, Found, offered
from registry.models.constructs import ConstructFamily


def there(kind: str, **more: Any) -> Found:
    grade = 2 if KINDS[kind].grades else None
    return Found(kind, "present", **{"grade": grade, **more})


def absent(*kinds: str) -> list[Found]:
    return [Found(kind, "absent") for kind in kinds]


def codes(kinds: Any) -> set[str]:
    return {kind.code for kind in kinds}


HARDWARE = [code for code, kind in KINDS.items() if kind.shows]


def test_the_rows_know_the_kinds_and_states_of_the_rules() -> None:
    assert list(KINDS) == FindingKind.values
    assert [kind.words for kind in KINDS.values()] == [
        word.replace("Erosion", "erosion").replace("Degeneration", "degeneration")
        if word.startswith(("Erosion", "Degeneration"))
        else word[:1].lower() + word[1:]
        for word in map(str, FindingKind.labels)
    ]
    assert list(findings.STATES) == FindingState.values
    assert dict(findings.SUMMARY_WORDS) == {
        code: str(words).lower() for code, words in HardwareOnFilm.choices
    }


def test_a_construct_is_asked_only_for_what_it_can_show() -> None:
    plate = offered({PLATE, SCREWS})
    assert {"screw_backed_out", "plate_broken", "ossification"} <= codes(plate.fitting)
    assert codes(plate.others) == {
        *("hook_migrated", "acromial_erosion"),
        *("anchor_moved", "tunnel_widened", "coracoid_fracture"),
    }
    button = offered({CORACOID})
    assert codes(button.fitting) == {
        *("anchor_moved", "tunnel_widened", "coracoid_fracture"),
        *("ossification", "ac_degeneration"),
    }
    assert codes(offered(()).fitting) == {"ossification", "ac_degeneration"}


def test_after_a_removal_the_marks_in_the_bone_are_left() -> None:
    left = offered({PLATE, SCREWS, HOOK}, hardware_in=False)
    assert codes(left.fitting) == {"acromial_erosion", "ossification", "ac_degeneration"}
    assert codes(left.others) | codes(left.fitting) == set(KINDS)


def test_every_family_has_its_parts_and_another_may_have_any() -> None:
    nothing = {"plate_holes": None, "anchors": None, "buttons": None}
    for family in ConstructFamily:
        assert findings.parts_of(family, **nothing)
    assert findings.parts_of(ConstructFamily.OTHER, **nothing) == findings.PARTS
    counted = findings.parts_of("hook_plate", plate_holes=5, anchors=1, buttons=None)
    assert counted == findings.PARTS
    plated = findings.parts_of("suspensory", plate_holes=3, anchors=0, buttons=2)
    assert plated == {PLATE, SCREWS, CORACOID}


def test_who_reads_blind_is_offered_everything_alike() -> None:
    assert codes(findings.offered_blind().fitting) == set(KINDS)
    assert findings.offered_blind().others == ()


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (Found("screw_bent", "present"), "no kind of finding"),
        (Found("screw_broken", "maybe"), "no state of a finding"),
        (Found("acromial_erosion", "present"), "needs its grade: 1, 2, 3"),
        (Found("acromial_erosion", "present", 4), "needs its grade"),
        (Found("plate_broken", "present", 1), "has no grades"),
        (Found("screw_broken", "present", place="anchor"), "no place of 'screw broken'"),
        (Found("plate_broken", "present", place="lateral"), "there are: none"),
        (Found("screw_broken", "absent", place="lateral"), "Only what is there"),
        (Found("ossification", "not_applicable"), "can be on every film"),
    ],
)
def test_what_cannot_be_recorded_is_told_by_its_kind(found: Found, words: str) -> None:
    assert words in findings.faults([found])[found.kind]


def test_a_kind_told_twice_is_refused_and_good_findings_are_not() -> None:
    twice = [*absent("plate_broken"), there("plate_broken")]
    assert "told twice" in findings.faults(twice)["plate_broken"]
    good = [there(kind) for kind in KINDS]
    good[0] = there("screw_loosened", place="both")
    assert findings.faults(good) == {}
    assert findings.faults([Found("hook_migrated", "not_applicable")]) == {}


def test_the_worst_of_the_findings_sums_up_the_hardware() -> None:
    assert findings.summary_of([there("screw_loosened"), there("screw_broken")]) == "broken"
    assert findings.summary_of([there("plate_lifted"), there("hook_migrated")]) == "migrated"
    assert findings.summary_of([there("screw_backed_out")]) == "loose"
    assert findings.summary_of([there("coracoid_fracture"), *absent("screw_broken")]) == ""


def test_hardware_is_in_place_only_where_all_that_was_asked_for_is_absent() -> None:
    asked = offered({CORACOID}).fitting
    assert findings.is_all_in_place(absent("anchor_moved"), asked)
    assert not findings.is_all_in_place(absent("tunnel_widened"), asked)
    assert not findings.is_all_in_place(absent("ossification"), offered(()).fitting)


@pytest.mark.parametrize(
    ("hardware", "found", "words"),
    [
        ("intact", [there("screw_backed_out", place="lateral")], "screw backed out, lateral"),
        ("unknown", [there("plate_broken")], "Choose 'broken'"),
        ("loose", [there("screw_broken"), there("screw_loosened")], "Choose 'broken'"),
        ("removed", [there("plate_lifted")], "Choose 'loose'"),
        ("broken", absent("screw_broken", "plate_broken"), "every finding that would show it"),
        ("migrated", absent(*HARDWARE), "Say what is migrated"),
    ],
)
def test_hardware_that_its_findings_contradict_is_refused_in_words(
    hardware: str, found: list[Found], words: str
) -> None:
    assert words in findings.contradiction(hardware, found)


@pytest.mark.parametrize(
    ("hardware", "found"),
    [
        ("intact", absent(*HARDWARE)),
        ("intact", [there("coracoid_fracture")]),
        ("broken", absent("screw_broken")),
        ("loose", []),
        ("broken", [there("screw_broken"), there("screw_loosened")]),
        # The plate is out; a broken screw was left behind.
        ("removed", [there("screw_broken")]),
        ("unknown", [Found("screw_broken", "not_assessable")]),
    ],
)
def test_hardware_that_can_stand_beside_its_findings_is_let_be(
    hardware: str, found: list[Found]
) -> None:
    assert findings.contradiction(hardware, found) == ""


@given(st.sets(st.sampled_from(HARDWARE), min_size=1))
def test_the_summary_never_contradicts_the_findings_that_it_comes_from(kinds: set[str]) -> None:
    found = [there(kind) for kind in kinds]
    assert findings.contradiction(findings.summary_of(found), found) == ""
    assert findings.contradiction("intact", found)


def test_findings_are_told_with_what_is_unsure_and_how_many_are_absent() -> None:
    found = [
        there("screw_backed_out", place="lateral"),
        there("acromial_erosion"),
        Found("tunnel_widened", "not_assessable"),
        *absent("screw_broken", "plate_broken"),
    ]
    assert findings.told(found) == [
        "screw backed out, lateral",
        "erosion of the acromion grade 2 (up to half of its thickness)",
        "cannot be judged: coracoid tunnel widened",
        "nothing else of 2 that were looked for",
    ]
    assert findings.told(absent("plate_broken")) == ["no finding of 1 that was looked for"]
    assert findings.told([]) == []
