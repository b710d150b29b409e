"""One sentence that explains a case's verdict: films, dates, views, numbers, measurement error."""

from collections.abc import Mapping

from analytics.answers.case import CaseVerdict, SeenFilm
from analytics.endpoints.definition import REASONS, EndpointDefinition

UNITS: Mapping[str, str] = {"rise_mm": "mm", "side_difference_mm": "mm"}
ABOVE: Mapping[str, str] = {
    "rise_mm": "above the first film",
    "side_difference_mm": "above the other side",
    "side_ratio_pct": "above the other side",
    "displacement": "of the shaft's width more translation than on the first film",
}
STATES: Mapping[str, str] = {
    "lost": "Lost",
    "held": "Held",
    "first film only": "Held on the first film only",
    "no film": "No comparable film",
    "not evaluable": "Not evaluable",
}
CAME_FIRST: Mapping[str, str] = {
    "revision": "a revision fixation came first, on",
    "removal": "the implant was removed first, on",
    "death": "the patient died on",
}
FOLLOWED: Mapping[str, str] = {
    "revision": "a revision fixation followed on",
    "removal": "the implant was removed on",
    "death": "the patient died on",
}


def explain(case: CaseVerdict) -> str:
    """Say in one sentence what the verdict is and which numbers it rests on."""
    parts = [_verdict(case)]
    if case.state == "lost":
        parts.append(_between(case))
    if case.open_because:
        parts.append(REASONS[case.open_because])
    if case.competing and case.competing_on is not None:
        on = case.competing_on
        words = FOLLOWED if case.state == "lost" else CAME_FIRST
        parts.append(f"{words[case.competing]} {on.day} {on:%b %Y}")
    return "; ".join(parts) + "."


def numbers(case: CaseVerdict) -> str:
    """Say the number that a verdict rests on beside the threshold, '' where there is none."""
    film = case.decided_by
    if film is None or film.measure is None:
        return "hardware let go" if film is not None and film.lifted and film.lost else ""
    return f"{amount(film.measure, case.definition)} {ABOVE[case.definition.rule]}"


def amount(value: float, definition: EndpointDefinition) -> str:
    """Write a number in the unit of a definition's threshold."""
    unit = unit_of(definition)
    return f"{value:.1f} mm" if unit == "mm" else f"{value:.0f} %"


def unit_of(definition: EndpointDefinition) -> str:
    """Return the unit of a definition's threshold."""
    return UNITS.get(definition.rule, "%")


def threshold(definition: EndpointDefinition) -> str:
    """Write a definition's threshold as it is spoken of."""
    return f"{definition.threshold:g} {unit_of(definition)}"


def error_words(film: SeenFilm, definition: EndpointDefinition) -> str:
    """Say how much of a number could be measurement alone."""
    if film.error is None:
        return "how much of it could be measurement alone is not known on this film"
    error = f"{film.error:g}" if unit_of(definition) == "mm" else f"{film.error:.0f}"
    return f"{error} {unit_of(definition)} could be measurement alone"


def _verdict(case: CaseVerdict) -> str:
    word = STATES[case.state]
    if case.state == "not evaluable":
        return f"{word}: {REASONS[case.why_not]}{_window(case)}"
    film = case.decided_by
    if film is None:
        return f"{word}: nothing was measured that this definition could judge"
    if case.state == "first film only":
        return f"{word}, {film.words}: nothing comparable has been measured since"
    partly = ", partly" if case.partial else ""
    return f"{word}{partly}: {_found(film, case)}"


def _found(film: SeenFilm, case: CaseVerdict) -> str:
    definition = case.definition
    if film.measure is None:
        return f"{film.words} shows hardware loose, broken or migrated"
    told = f"{_lengths(film, definition)}{amount(film.measure, definition)}"
    last = "" if film.lost else ", the last that can be compared,"
    told = f"on {film.words}{last} {told} {ABOVE[definition.rule]}, "
    told += _beside(film, definition)
    if film.lifted and film.lost:
        return f"{told}, and hardware loose, broken or migrated"
    return told if definition.rule == "displacement" else f"{told}; {error_words(film, definition)}"


def _lengths(film: SeenFilm, definition: EndpointDefinition) -> str:
    if film.now is None or film.before is None or definition.rule == "displacement":
        return ""
    return f"the CC distance was {film.now:.1f} mm against {film.before:.1f} mm: "


def _beside(film: SeenFilm, definition: EndpointDefinition) -> str:
    rule = f"the {threshold(definition)} of this definition"
    if film.measure is None:
        return f"beside {rule}"
    if _over(film.measure, definition) != film.lost:
        return f"beside {rule}" if film.lost else f"over {rule} on this film alone"
    if definition.inclusive:
        return f"{'at least' if film.lost else 'less than'} {rule}"
    return f"{'more than' if film.lost else 'not more than'} {rule}"


def _over(measure: float, definition: EndpointDefinition) -> bool:
    slack = -1e-6 if definition.inclusive else 1e-6
    return measure > definition.threshold + slack


def _between(case: CaseVerdict) -> str:
    if case.last_held is None:
        return "no earlier film showed it held"
    return f"{case.last_held.words} still held, so it happened between the two"


def _window(case: CaseVerdict) -> str:
    if case.why_not != "no_baseline":
        return ""
    return f" (up to day {case.definition.baseline_days} after the operation)"
