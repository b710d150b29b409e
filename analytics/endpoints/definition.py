"""What an endpoint definition is, and the table of verdicts that applying one gives."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

import pandas as pd

REASONS: dict[str, str] = {
    "no_baseline": "no measurable film in the baseline window",
    "other_shoulder": "the other shoulder is not an uninjured reference",
    "not_reduced": "over the threshold on the first film already: there was no reduction to lose",
    "not_a_fracture": "not a fracture",
    "no_film": "no comparable film at or after the horizon",
    "not_seen": "not seen at or after the horizon",
    "between": "loss found later; whether before the horizon is not known",
    "window_open": "the horizon's window is still open",
    "withdrawn": "withdrew before the horizon",
    "moved": "moved away before the horizon",
}

Rule = Literal["rise_mm", "side_ratio_pct", "side_difference_mm", "united", "complication"]

# Column names of a table of verdicts, indexed by procedure_id.
VERDICT_COLUMNS = (
    "not_evaluable",  # reason code, '' when the case can be judged at all
    "baseline_on",
    "seen_until",  # last film, or last day seen, on which the event had not happened
    "event_on",  # first film, or day, on which it had
    "competing_on",
    "competing",  # 'revision', 'death' or ''
)


@dataclass(frozen=True)
class EndpointDefinition:
    """A named, versioned rule with its source.

    `threshold` is in mm or per cent by `rule`; `inclusive` says whether the threshold itself counts.
    `baseline_days` is the last day after the operation on which a film can be the baseline.
    `competing` names what can come first. `kinds` limits a harm to some complications.
    """

    id: str
    version: int
    endpoint: str
    name: str
    text: str
    source: str
    rule: Rule
    threshold: float = 0.0
    inclusive: bool = False
    baseline_days: int = 27
    event_is_harm: bool = True
    competing: tuple[str, ...] = ("revision", "death")
    kinds: tuple[str, ...] = ()
    partial_from: float | None = None

    @property
    def label(self) -> str:
        """Name and version, as every figure prints them."""
        return f"{self.name} (version {self.version})"


@dataclass(frozen=True)
class Data:
    """The frames that a definition works on."""

    cases: pd.DataFrame
    readings: pd.DataFrame
    complications: pd.DataFrame
    cutoff: date


@dataclass(frozen=True)
class Applied:
    """A definition applied to data: one verdict for each case, and the films that it looked at."""

    definition: EndpointDefinition
    verdicts: pd.DataFrame
    films: pd.DataFrame = field(default_factory=pd.DataFrame)


Apply = Callable[[EndpointDefinition, Data], Applied]


def empty_verdicts(cases: pd.DataFrame) -> pd.DataFrame:
    """Return a table of verdicts with nothing known yet, for the same cases."""
    verdicts = pd.DataFrame(index=cases.index)
    for name in VERDICT_COLUMNS:
        text = name in ("not_evaluable", "competing")
        verdicts[name] = "" if text else pd.Series(pd.NaT, cases.index, dtype="datetime64[ns]")
    return verdicts


def with_competing(
    verdicts: pd.DataFrame, cases: pd.DataFrame, competing: tuple[str, ...]
) -> pd.DataFrame:
    """Add the first competing event of each case: revision or death."""
    none = pd.Series(pd.NaT, cases.index, dtype="datetime64[ns]")
    revision = cases["revised_on"] if "revision" in competing else none
    died = cases["status_on"].where(cases["patient_status"] == "died")
    death = died if "death" in competing else none
    first = pd.concat([revision, death], axis=1).min(axis=1)
    verdicts["competing_on"] = first
    kind = pd.Series("death", cases.index).where(
        ~(revision <= death.fillna(pd.Timestamp.max)), "revision"
    )
    verdicts["competing"] = kind.where(first.notna(), "")
    return verdicts
