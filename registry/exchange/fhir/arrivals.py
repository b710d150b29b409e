"""Patients, injuries, operations and parts out of resources that came, each element with its place."""

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from registry.exchange.fhir import facts, terms
from registry.exchange.fhir.facts import coded
from registry.exchange.fhir.injuries import SIDE_WORDS
from registry.rules.dates import Bounds
from registry.rules.fhir import moments
from registry.rules.fhir.elements import absent_code
from registry.rules.fhir.reading import Node

Number = tuple[str, str]
CLASS_SYSTEMS = ("neer", "ao-ota", "rockwood")
NEEDS_NUMBER = (
    "Give a number (system and value) by which you know this, so that sending it twice lands once."
)


@dataclass
class Arrival:
    """What every resource that came has: its numbers, and that unusual values were looked at."""

    numbers: list[Number] = field(default_factory=list)
    checked: bool = False


@dataclass
class PatientCame(Arrival):
    """A patient. `site` is its code, '' where it is not named."""

    identity: dict[str, Any] = field(default_factory=dict)
    site: str = ""
    died_on: date | None = None
    different_from: list[str] = field(default_factory=list)


@dataclass
class InjuryCame(Arrival):
    """An injury with its classes; `subject` is a reference."""

    subject: str = ""
    values: dict[str, Any] = field(default_factory=dict)
    classes: dict[str, str] = field(default_factory=dict)


@dataclass
class OperationCame(Arrival):
    """An operation with its construct; references to its injury, what it revises, and its parts."""

    subject: str = ""
    injury: str = ""
    revises: str = ""
    surgeon: str = ""
    side: str = ""
    values: dict[str, Any] = field(default_factory=dict)
    construct_type: str = ""
    construct: dict[str, Any] = field(default_factory=dict)
    implanted: list[str] = field(default_factory=list)


def patient(node: Node) -> PatientCame:
    """Read a Patient."""
    came = PatientCame(**common(node))
    name = _first_name(node)
    came.identity = {
        "family_name": name.text("family"),
        "given_name": " ".join(str(one.read()) for one in name.each("given")),
        "sex": node.text("gender") or "unknown",
    }
    for part, words in (("family", "a family name"), ("given", "a given name")):
        if not name.child(part):
            name.wrong("required", f"A patient needs {words}.", part)
    born = dated(node, "birthDate", needed="A patient needs a birth date, or its month or year.")
    if born is not None:
        came.identity |= {"birth_earliest": born.earliest, "birth_latest": born.latest}
    _reached(node, came.identity)
    came.site = _site(node)
    died = dated(node, "deceasedDateTime", exact=True)
    came.died_on = died.earliest if died is not None else None
    if node.child("deceasedBoolean").value is True:
        node.wrong("value", "Say the day, as deceasedDateTime.", "deceasedBoolean")
    node.child("deceasedBoolean").read()
    if node.child("active").value is True:
        node.child("active").read()
    for one in extensions(node, "different-from"):
        reference = one.child("valueReference").text("reference")
        came.different_from.append(reference.removeprefix("Patient/"))
    return came


def injury(node: Node) -> InjuryCame:
    """Read a Condition."""
    came = InjuryCame(**common(node))
    came.subject = node.child("subject").text("reference")
    values, missing = facts.read(node, "injury-facts", facts.INJURY)
    came.values = {
        **values,
        "missing": missing,
        "kind": one_code(node.child("code"), "injury-kind"),
        "side": _side(node),
    }
    hurt = _onset(node)
    if hurt is not None:
        came.values |= {"injured_earliest": hurt.earliest, "injured_latest": hurt.latest}
    verified = node.child("verificationStatus").child("coding", 0)
    if verified and verified.text("code") != "confirmed":
        verified.wrong("value", "Only what is confirmed is recorded.", "code")
    verified.child("system").read()
    for one in node.each("stage"):
        _stage(one, came.classes)
    return came


def operation(node: Node) -> OperationCame:
    """Read a Procedure."""
    came = OperationCame(**common(node))
    came.subject = node.child("subject").text("reference")
    came.injury = node.child("reasonReference", 0).text("reference")
    if not came.injury:
        node.wrong(
            "required", "Name the injury (a Condition) that was operated.", "reasonReference"
        )
    came.revises = node.child("partOf", 0).text("reference")
    came.side = _side(node, needed=False)
    values, missing = facts.read(node, "procedure-facts", facts.PROCEDURE)
    came.values = {
        **values,
        "missing": missing,
        "kind": one_code(node.child("code"), "procedure-kind"),
        "note": node.child("note", 0).text("text"),
    }
    if node.text("status") != "completed":
        node.wrong("value", "Only what was done is recorded: the status is 'completed'.", "status")
    _performed(node, came.values)
    actor = node.child("performer", 0).child("actor").child("identifier")
    if actor and actor.text("system") == terms.person_system():
        came.surgeon = actor.text("value")
    _built(node, came)
    return came


def _built(node: Node, came: OperationCame) -> None:
    construct, missing = facts.read(node, "construct-facts", facts.CONSTRUCT)
    used = node.child("usedCode", 0)
    for one in used.each("coding"):
        if one.value.get("system") == terms.system(terms.CONSTRUCT_TYPE):
            one.child("system").read()
            one.child("display").read()
            one.child("version").read()
            came.construct_type = one.text("code")
    if used and not came.construct_type:
        told = f"Name the construct type by a code of {terms.system(terms.CONSTRUCT_TYPE)}."
        used.wrong("code-invalid", told, "coding")
    came.construct = {**construct, "missing": missing} if came.construct_type else {}
    if construct and not came.construct_type:
        node.wrong("required", "What was implanted needs its construct type.", "usedCode")
    for one in node.each("focalDevice"):
        action = one.child("action").child("coding", 0)
        action.child("system").read()
        act = action.text("code")
        reference = one.child("manipulated").text("reference")
        if act == "implanted":
            came.implanted.append(reference)
        elif act == "manipulated":
            one.wrong("not-supported", "Only what went in or came out is recorded.", "action")
    if came.implanted and not came.construct_type:
        node.wrong("required", "Parts belong to a construct: name its type.", "usedCode")


def common(node: Node) -> dict[str, Any]:
    """Read what every resource has: its numbers, and whether unusual values were looked at."""
    for name in ("resourceType", "id"):
        node.child(name).read()
    for name, told in (
        ("modifierExtension", "It changes what the resource means and is not understood."),
        ("implicitRules", "Rules that are not here cannot be followed."),
        ("contained", "Send what is contained as an entry of its own."),
    ):
        if node.child(name):
            node.wrong("not-supported", told, name)
    numbers = []
    for one in node.each("identifier"):
        if one.text("system") == terms.canonical(terms.IDENTIFIER, "key"):
            continue
        number = (one.text("system"), one.text("value"))
        one.child("use").read()
        if all(number):
            numbers.append(number)
        else:
            one.wrong("required", "A number needs its system and its value.")
    if not numbers:
        node.wrong("required", NEEDS_NUMBER, "identifier")
    checked = False
    for tag in node.child("meta").each("tag"):
        if tag.value.get("system") == terms.system("intake"):
            checked = coded(tag, "intake") == "checked"
    return {"numbers": numbers, "checked": checked}


def _first_name(node: Node) -> Node:
    names = list(node.each("name"))
    official = [one for one in names if one.value.get("use") == "official"]
    chosen = (official or names or [node.child("name", 0)])[0]
    chosen.child("use").read()
    return chosen


def _reached(node: Node, identity: dict[str, Any]) -> None:
    for one in node.each("telecom"):
        system = one.value.get("system")
        column = {"phone": "phone", "sms": "phone", "email": "email"}.get(str(system), "")
        if column and column not in identity:
            one.child("system").read()
            one.child("use").read()
            identity[column] = one.text("value")
    address = node.child("address", 0)
    lines = [str(one.read()) for one in address.each("line")]
    lines += [address.text(name) for name in ("postalCode", "city", "state", "country")]
    identity["address"] = address.text("text") or ", ".join(one for one in lines if one)
    for one in node.each("communication"):
        language = one.child("language").child("coding", 0)
        if "language" not in identity and language.text("code"):
            language.child("system").read()
            one.child("preferred").read()
            identity["language"] = language.text("code")[:10]


def _site(node: Node) -> str:
    named = node.child("managingOrganization").child("identifier")
    if not named:
        return ""
    if named.text("system") != terms.site_system():
        named.wrong("value", f"A site is named by its code, of {terms.site_system()}.", "system")
    return named.text("value")


def extensions(node: Node, name: str) -> list[Node]:
    """Return the extensions of ours by a name."""
    found = []
    for one in node.each("extension"):
        if isinstance(one.value, dict) and one.value.get("url") == terms.extension(name):
            one.child("url").read()
            found.append(one)
    return found


def one_code(node: Node, name: str) -> str:
    """Read the one code of a system of ours out of a concept, '' where there is none.

    Words beside it are kept by the code where they are ours; others stay unread, and so are told.
    """
    ours = [one for one in node.each("coding") if one.value.get("system") == terms.system(name)]
    if not ours:
        codes = ", ".join(terms.LOCAL_SYSTEMS[name].concepts)
        told = f"This needs a code of {terms.system(name)}: {codes}."
        node.wrong("code-invalid", told, "coding")
        return ""
    code = coded(ours[0], name)
    words = (terms.LOCAL_SYSTEMS[name].concepts.get(code), SIDE_WORDS.get(code))
    if node.child("text").value in words:
        node.child("text").read()
    return code


def _side(node: Node, *, needed: bool = True) -> str:
    site = node.child("bodySite", 0)
    if not site and not needed:
        return ""
    return one_code(site, "side")


def _stage(node: Node, classes: dict[str, str]) -> None:
    summary = node.child("summary")
    summary.child("text").read()
    node.child("type").read()
    for one in summary.each("coding"):
        for name in CLASS_SYSTEMS:
            if one.value.get("system") == terms.system(name):
                code = coded(one, name)
                if code:
                    classes[name.replace("-", "_")] = code


def _onset(node: Node) -> Bounds | None:
    period = node.child("onsetPeriod")
    if not period:
        told = "An injury needs its date, or the month or year of it."
        return dated(node, "onsetDateTime", needed=told)
    first = dated(period, "start", needed="Bounds need a first day.")
    last = dated(period, "end", needed="Bounds need a last day.")
    if first is None or last is None:
        return None
    if last.latest < first.earliest:
        period.wrong("value", "The last day is before the first.", "end")
        return None
    return Bounds(first.earliest, last.latest)


def _performed(node: Node, values: dict[str, Any]) -> None:
    period = node.child("performedPeriod")
    if not period:
        told = "An operation needs its day."
        day = dated(node, "performedDateTime", exact=True, needed=told)
    else:
        day = dated(period, "start", exact=True, needed="An operation needs its day.")
        minutes = _minutes(period)
        if minutes is not None:
            values.setdefault("duration_minutes", minutes)
    if day is not None:
        values["performed_on"] = day.earliest


def _minutes(period: Node) -> int | None:
    first, last = period.text("start"), period.text("end")
    if "T" not in first or "T" not in last:
        return None
    try:
        began, ended = (moments.read_moment(one) for one in (first, last))
    except ValueError as fault:
        period.wrong("value", str(fault), "end")
        return None
    return int((ended - began).total_seconds() // 60)


def dated(node: Node, name: str, *, exact: bool = False, needed: str = "") -> Bounds | None:
    """Read a date, with `exact` to the day; `needed` says what is missing without it."""
    written = node.text(name)
    if not written:
        hidden = node.child(f"_{name}")
        if needed:
            why = f" (it is said to be {absent_code(hidden.value)})" if hidden else ""
            node.wrong("required", f"{needed.rstrip('.')}{why}.", name)
        return None
    try:
        found = moments.read(written)
    except ValueError as fault:
        node.wrong("value", str(fault), name)
        return None
    if exact and not found.exact:
        node.wrong("value", f"'{written}' lacks the day, which must be known here.", name)
        return None
    return found
