"""One case's verdict in one sentence, with the numbers that decided it."""

from typing import Any

import pandas as pd

from analytics.endpoints.catalogue import HARM_KINDS
from analytics.endpoints.definition import REASONS, Applied

UNITS = {
    "rise_mm": "mm above the first film",
    "side_difference_mm": "mm above the other side",
    "side_ratio_pct": "% above the other side",
}
HELD = {"united": "Not united", "complication": "No event"}
HAPPENED = {"united": "United"}
UNSEEN = {"united": "No film was judged for union", "complication": "Not seen since the operation"}
COMPETING = {"revision": "a revision fixation came first, on", "death": "the patient died on"}


def verdict_sentence(applied: Applied, procedure_id: int) -> str:
    """Say whether a case held, was lost or cannot be judged, by which films, and what came first.

    Raises KeyError when the case is not among those judged.
    """
    verdict = applied.verdicts.loc[[procedure_id]].iloc[0]
    if verdict["not_evaluable"]:
        return f"Not evaluable: {REASONS[verdict['not_evaluable']]}."
    competing = verdict["competing_on"]
    came_first = pd.notna(competing) and not verdict["event_on"] <= competing
    if pd.notna(verdict["event_on"]) and not came_first:
        return _happened(applied, procedure_id, verdict)
    ending = f"; {COMPETING[verdict['competing']]} {_day(competing)}" if came_first else ""
    return _held(applied, procedure_id, verdict["seen_until"]) + f"{ending}."


def _happened(applied: Applied, procedure_id: int, verdict: "pd.Series[Any]") -> str:
    rule, on, since = applied.definition.rule, verdict["event_on"], verdict["seen_until"]
    if rule == "complication":
        return f"{_kinds(applied, procedure_id, on)} on {_day(on)}."
    word = HAPPENED.get(rule, "Lost")
    detail = _measure(applied, procedure_id, on)
    if pd.isna(since):
        return f"{word} on {_day(on)}{detail}."
    return f"{word} between {_day(since)} and {_day(on)}{detail}."


def _held(applied: Applied, procedure_id: int, until: Any) -> str:
    rule = applied.definition.rule
    if pd.isna(until):
        return UNSEEN.get(rule, "No comparable film")
    word = HELD.get(rule, "Held")
    return f"{word} up to {_day(until)}{_measure(applied, procedure_id, until)}"


def _measure(applied: Applied, procedure_id: int, on: Any) -> str:
    """Write the measurement of the film of a day; the largest where there are several."""
    definition = applied.definition
    unit = UNITS.get(definition.rule)
    if unit is None:
        return ""
    film = _of_day(applied, procedure_id, on).sort_values("measure").iloc[-1]
    other = "value_before" if definition.rule == "rise_mm" else "ccd_other_mm"
    lengths = film["ccd_injured_mm"], film[other]
    both = (
        ""
        if pd.isna(lengths[0]) or pd.isna(lengths[1])
        else "{:.1f} mm against {:.1f} mm: ".format(*lengths)
    )
    partial = definition.partial_from
    is_partial = partial is not None and partial <= film["measure"] and not film["lost"]
    return f" ({both}{film['measure']:.1f} {unit}{', partial' if is_partial else ''})"


def _kinds(applied: Applied, procedure_id: int, on: Any) -> str:
    kinds = _of_day(applied, procedure_id, on)["kind"]
    return " and ".join(HARM_KINDS.get(kind, kind) for kind in dict.fromkeys(kinds))


def _of_day(applied: Applied, procedure_id: int, on: Any) -> pd.DataFrame:
    films = applied.films
    mine = (films["procedure_id"] == procedure_id) & (films["taken_on"] == on)
    found: pd.DataFrame = films.loc[mine]
    return found


def _day(moment: Any) -> str:
    return f"{moment.day} {moment:%b %Y}"
