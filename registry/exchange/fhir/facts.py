"""Facts for which FHIR has no element: an extension of ours, out and in, by one table."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from registry.exchange.fhir import terms
from registry.rules.fhir.elements import ABSENT, Json, absent_code, absent_here, quantity
from registry.rules.fhir.reading import Node

CODE, WHOLE, NUMBER, TEXT, FLAG = "code", "whole", "number", "text", "flag"
# Codes of ours that say why there is no value.
NO_VALUE = ("unknown", "not_applicable")
KINDS_OF_MISSING = {fhir: ours for ours, fhir in ABSENT.items() if ours != "declined"}


@dataclass(frozen=True)
class Fact:
    """One column: how it is written, and its code system or its unit where it has one."""

    field: str
    kind: str
    of: str = ""


INJURY = (
    Fact("mechanism", CODE, "mechanism"),
    Fact("energy", CODE, "energy"),
    Fact("skin", CODE, "skin"),
    Fact("dominant_arm", CODE, "dominant-arm"),
    Fact("other_shoulder", CODE, "other-shoulder"),
    Fact("smoking", CODE, "smoking"),
    Fact("diabetes", CODE, "yes-no"),
    Fact("bmi_kg_m2", NUMBER, "kg/m2"),
    Fact("steroid_use", CODE, "yes-no"),
    Fact("osteoporosis", CODE, "yes-no"),
    Fact("work_demand", CODE, "work-demand"),
    Fact("sport_demand", CODE, "sport-demand"),
)
# Worked out from the patient; told, never taken.
AT_INJURY = (Fact("age_years", WHOLE), Fact("sex", TEXT))
PROCEDURE = (
    Fact("operator_grade", CODE, "operator-grade"),
    Fact("assistant_grade", CODE, "operator-grade"),
    Fact("position", CODE, "position"),
    Fact("approach", CODE, "approach"),
    Fact("provisional_fixation", CODE, "yes-no"),
    Fact("reduction_quality", CODE, "reduction-quality"),
    Fact("intraoperative_film", CODE, "yes-no"),
    Fact("duration_minutes", WHOLE),
    Fact("planned_removal", FLAG),
)
CONSTRUCT = (
    Fact("plate_holes", WHOLE),
    Fact("lateral_screw_count", WHOLE),
    Fact("lateral_screw_diameter_mm", NUMBER, "mm"),
    Fact("lateral_drill_mm", NUMBER, "mm"),
    Fact("lateral_screws_locking", CODE, "yes-no"),
    Fact("shaft_screw_count", WHOLE),
    Fact("shaft_screw_diameter_mm", NUMBER, "mm"),
    Fact("shaft_drill_mm", NUMBER, "mm"),
    Fact("shaft_cortices", WHOLE),
    Fact("anchor_count", WHOLE),
    Fact("button_count", WHOLE),
    Fact("free_slots_count", WHOLE),
    Fact("retainer_count", WHOLE),
    Fact("suture_kind", TEXT),
    Fact("knot", CODE, "knot"),
    Fact("half_hitch_count", WHOLE),
    Fact("graft", CODE, "graft"),
    Fact("first_two_screws", CODE, "first-two-screws"),
    Fact("guide_wire_clear", CODE, "guide-wire-clear"),
    Fact("shorter_screw_chosen", CODE, "shorter-screw-chosen"),
)


def written(name: str, facts: Iterable[Fact], row: Any) -> list[Json]:
    """Return the extension `name` with what a row knows of some facts, or why it does not know it."""
    inner = [one for fact in facts if (one := _written(fact, row))]
    return [{"url": terms.extension(name), "extension": inner}] if inner else []


def read(node: Node, name: str, facts: Iterable[Fact]) -> tuple[dict[str, Any], dict[str, str]]:
    """Read the extension `name`: values by column, and kinds of missing by column."""
    known = {fact.field: fact for fact in facts}
    values: dict[str, Any] = {}
    missing: dict[str, str] = {}
    for outer in node.each("extension"):
        if not isinstance(outer.value, dict) or outer.value.get("url") != terms.extension(name):
            continue
        outer.child("url").read()
        for one in outer.each("extension"):
            field = one.text("url")
            if field not in known:
                one.wrong("not-found", f"'{field}' is none of {', '.join(known)}.", "url")
                continue
            _read(one, known[field], values, missing)
    return values, missing


def _written(fact: Fact, row: Any) -> Json:
    value = getattr(row, fact.field)
    kind = row.missing.get(fact.field, "")
    if fact.kind == CODE and value in NO_VALUE:
        kind = value
    if kind:
        return {"url": fact.field, **absent_here(ABSENT[kind])}
    if value in (None, ""):
        return {}
    shapes: dict[str, Json] = {
        CODE: {"valueCoding": terms.local(fact.of, str(value))},
        TEXT: {"valueString": str(value)},
        WHOLE: {"valueInteger": value},
        FLAG: {"valueBoolean": value},
    }
    if fact.kind == NUMBER:
        return {"url": fact.field, "valueQuantity": quantity(value, fact.of)}
    return {"url": fact.field, **shapes[fact.kind]}


def _read(node: Node, fact: Fact, values: dict[str, Any], missing: dict[str, str]) -> None:
    absent = absent_code(node.value)
    if absent:
        node.child("extension").read()
        kind = KINDS_OF_MISSING.get(absent)
        if kind is None:
            node.wrong("value", f"'{absent}' cannot be kept; use {', '.join(KINDS_OF_MISSING)}.")
        elif fact.kind == CODE:
            values[fact.field] = kind
        else:
            missing[fact.field] = kind
    elif fact.kind == CODE:
        code = node.child("valueCoding")
        values[fact.field] = coded(code, fact.of)
    elif fact.kind == NUMBER:
        values[fact.field] = _number(node.child("valueQuantity"), fact.of)
    else:
        name = {WHOLE: "valueInteger", FLAG: "valueBoolean", TEXT: "valueString"}[fact.kind]
        values[fact.field] = node.child(name).read()
        if values.get(fact.field) is None:
            node.wrong("required", f"This needs {name}, or a data-absent-reason.")
            del values[fact.field]


def coded(node: Node, name: str) -> str:
    """Read a coding of one of our systems; what is not of it is refused with what there is."""
    codes = terms.LOCAL_SYSTEMS[name].concepts
    system, code = node.text("system"), node.text("code")
    node.child("display").read()
    version = node.text("version")
    wanted = terms.LOCAL_SYSTEMS[name].edition
    if system != terms.system(name):
        told = f"The system is '{system}'; only {terms.system(name)} is understood here."
        node.wrong("code-invalid", told, "system")
    elif code not in codes:
        node.wrong("code-invalid", f"'{code}' is none of {', '.join(codes)}.", "code")
    elif wanted and version not in ("", wanted):
        node.wrong("code-invalid", f"Edition '{version}' is not kept, only '{wanted}'.", "version")
    else:
        return code
    return ""


def _number(node: Node, unit: str) -> Decimal | None:
    value = node.child("value").read()
    given = node.text("code") or node.text("unit")
    for name in ("unit", "system"):
        node.child(name).read()
    if given != unit:
        node.wrong("value", f"The unit is '{given}'; this is kept in {unit}.", "code")
        return None
    try:
        return Decimal(str(value))
    except InvalidOperation:
        node.wrong("value", f"'{value}' is no number.", "value")
        return None
