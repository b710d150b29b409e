"""One case's verdict in one sentence, with the numbers that decided it."""

import pandas as pd

from analytics.endpoints.definition import REASONS, Applied

UNITS = {"rise_mm": "mm above the first film", "side_difference_mm": "mm side difference"}


def verdict_sentence(applied: Applied, procedure_id: int) -> str:
    """Say whether a case held, was lost or cannot be judged, and by which films."""
    verdict = applied.verdicts.loc[procedure_id]
    if verdict["not_evaluable"]:
        return f"Not evaluable: {REASONS[verdict['not_evaluable']]}."
    if pd.notna(verdict["event_on"]):
        return _happened(applied, procedure_id, verdict)
    if pd.isna(verdict["seen_until"]):
        return "Not seen since the operation."
    until = _day(verdict["seen_until"])
    word = {"united": "Not united", "complication": "No event"}.get(applied.definition.rule, "Held")
    return f"{word} up to {until}{_measure(applied, procedure_id, verdict['seen_until'])}."


def _happened(applied: Applied, procedure_id: int, verdict: "pd.Series[object]") -> str:
    on = pd.Timestamp(str(verdict["event_on"]))
    word = {"united": "United", "complication": "Event"}.get(applied.definition.rule, "Lost")
    detail = _measure(applied, procedure_id, on)
    if pd.isna(verdict["seen_until"]):
        return f"{word} on {_day(on)}{detail}."
    since = _day(pd.Timestamp(str(verdict["seen_until"])))
    return f"{word} between {since} and {_day(on)}{detail}."


def _measure(applied: Applied, procedure_id: int, on: pd.Timestamp) -> str:
    films = applied.films
    if films.empty or applied.definition.rule in ("united", "complication"):
        return ""
    mine = films.loc[(films["procedure_id"] == procedure_id) & (films["taken_on"] == on)]
    if mine.empty:
        return ""
    unit = UNITS.get(applied.definition.rule, "% above the other side")
    return f" ({mine['measure'].iloc[-1]:.1f} {unit})"


def _day(moment: pd.Timestamp) -> str:
    return f"{moment.day} {moment:%b %Y}"
