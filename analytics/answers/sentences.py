"""One case's verdict in one sentence, with the numbers that decided it."""

from collections.abc import Iterable
from typing import Any

import pandas as pd

from analytics.endpoints.catalogue import HARM_KINDS
from analytics.endpoints.definition import REASONS, Applied

UNITS = {
    "rise_mm": "mm above the first film",
    "side_difference_mm": "mm above the other side",
    "side_ratio_pct": "% above the other side",
}
SIX_MONTHS = ("nonunion", "delayed_union")
HELD = dict.fromkeys(("united", *SIX_MONTHS), "Not united")
HAPPENED = {"united": "United", "delayed_union": "United after 6 months,"}
UNSEEN = {
    **dict.fromkeys(("united", *SIX_MONTHS), "No film was judged for union"),
    "complication": "Not seen since the operation",
}
COMPETING = {
    "revision": "a revision fixation came first, on",
    "removal": "the implant was removed first, on",
    "death": "the patient died on",
}


def verdict_sentence(applied: Applied, procedure_id: int) -> str:
    """Say whether a case held, was lost or cannot be judged, by which films, and what came first.

    Raises KeyError when the case is not among those judged.
    """
    return verdict_sentences(applied, [procedure_id])[procedure_id]


def verdict_sentences(applied: Applied, keys: Iterable[int]) -> dict[int, str]:
    """Say the verdicts of some cases, by their keys; only their own films are looked at.

    Raises KeyError when one is not among those judged.
    """
    mine = applied.of(keys)
    return {int(key): _sentence(mine, int(key)) for key in mine.verdicts.index}


def _sentence(applied: Applied, key: int) -> str:
    verdict = applied.verdicts.loc[[key]].iloc[0]
    if verdict["not_evaluable"]:
        return f"Not evaluable: {REASONS[verdict['not_evaluable']]}."
    competing = verdict["competing_on"]
    came_first = pd.notna(competing) and not verdict["event_on"] <= competing
    if pd.notna(verdict["event_on"]) and not came_first:
        return _happened(applied, key, verdict)
    ending = f"; {COMPETING[verdict['competing']]} {_day(competing)}" if came_first else ""
    return f"{_held(applied, key, verdict)}{_open(verdict)}{ending}."


def _happened(applied: Applied, key: int, verdict: "pd.Series[Any]") -> str:
    rule, on, since = applied.definition.rule, verdict["event_on"], verdict["seen_until"]
    if rule == "complication":
        return f"{_kinds(applied, key, on)} on {_day(on)}."
    if rule == "nonunion":
        film = _film(applied, verdict["event_film"])
        return f"Not united at 6 months ({_day(on)}): nor on the film of {_day(film['taken_on'])}."
    word = HAPPENED.get(rule, "Lost")
    detail = _measure(applied, verdict["event_film"])
    if pd.isna(since):
        return f"{word} on {_day(on)}{detail}."
    return f"{word} between {_day(since)} and {_day(on)}{detail}."


def _held(applied: Applied, key: int, verdict: "pd.Series[Any]") -> str:
    rule, until = applied.definition.rule, verdict["seen_until"]
    if pd.isna(until):
        return UNSEEN.get(rule, "No comparable film")
    if rule == "complication":
        return f"No event up to {_day(until)}"
    film = _film(applied, verdict["seen_film"])
    if film.get("united", False) and rule in SIX_MONTHS:
        return f"United in time: seen on {_day(film['taken_on'])}"
    partly = ", partial" if verdict["partial"] else ""
    return f"{HELD.get(rule, 'Held')} up to {_day(until)}{_measure(applied, film.name, partly)}"


def _open(verdict: "pd.Series[Any]") -> str:
    return f"; {REASONS[verdict['unknown']]}" if verdict["unknown"] else ""


def _measure(applied: Applied, film_id: Any, more: str = "") -> str:
    """Write the measurement of a film, what it was compared with, and whether that is a change."""
    rule = applied.definition.rule
    film = _film(applied, film_id)
    if rule == "displacement":
        return f" ({_translation(film)})"
    if rule not in UNITS:
        return ""
    other = "ccd_injured_mm_before" if rule == "rise_mm" else "ccd_other_mm"
    lengths = film["ccd_injured_mm"], film[other]
    both = (
        ""
        if pd.isna(lengths[0]) or pd.isna(lengths[1])
        else "{:.1f} mm against {:.1f} mm: ".format(*lengths)
    )
    if film["within_error"]:
        least = applied.definition.mdc_mm
        more += f"; less than {least:.1f} mm from the first film: within measurement error"
    return f" ({both}{film['measure']:.1f} {UNITS[rule]}{more})"


def _translation(film: "pd.Series[Any]") -> str:
    parts = []
    if pd.notna(film["measure"]):
        parts.append(
            f"translation {film['translation_pct']:.0f} % of the shaft against "
            f"{film['translation_pct_before']:.0f} % on the first film"
        )
    if film["lifted"]:
        parts.append("hardware loose, broken or migrated")
    return "; ".join(parts)


def _kinds(applied: Applied, key: int, on: Any) -> str:
    films = applied.films
    kinds = films.loc[(films["procedure_id"] == key) & (films["taken_on"] == on), "kind"]
    return " and ".join(HARM_KINDS.get(kind, kind) for kind in dict.fromkeys(kinds))


def _film(applied: Applied, film_id: Any) -> "pd.Series[Any]":
    films = applied.films
    one: pd.Series[Any] = films.loc[films["film_id"] == film_id].iloc[0]
    return one.rename(film_id)


def _day(moment: Any) -> str:
    return f"{moment.day} {moment:%b %Y}"
