"""What an endpoint definition is, and the table of verdicts that applying one gives."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

import numpy as np
import pandas as pd

NEVER = np.datetime64("NaT", "ns")

REASONS: dict[str, str] = {
    "no_baseline": "no measurable film in the baseline window",
    "other_shoulder": "the other shoulder is not an uninjured reference",
    "not_reduced": "over the threshold on the first film already: there was no reduction to lose",
    "not_a_fracture": "not a fracture",
    "no_film": "no comparable film at or after the horizon",
    "not_seen": "not seen at or after the horizon",
    "between": "found later; whether it had happened by the horizon is not known",
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
    `competing` names what can come first. `kinds` limits a harm to some complications, `within_days`
    to those that began by that day after the operation. From `partial_from` on a case that held is
    called partial.
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
    within_days: int | None = None
    partial_from: float | None = None

    @property
    def label(self) -> str:
        """Name and version, as every figure prints them."""
        return f"{self.name} (version {self.version})"


@dataclass(frozen=True)
class Data:
    """The frames that a definition works on. Days are datetime64[ns] without a time of day.

    `cases`, one row an index procedure, indexed by procedure_id: construct_type, site and other
    columns to group by; performed_on; injury_kind (lateral_clavicle, ac_joint); other_shoulder
    (uninjured, injured_before, operated_before, unknown); patient_status (active, died, withdrawn,
    moved) and status_on; revised_on and removed_on, the first such operation; last_seen_on, the last
    film or attended review.

    `readings`, one row a current reading: reading_id, procedure_id (of the index procedure), film_id,
    taken_on, view, position (upright, supine, unknown), calibrated, ccd_injured_mm and ccd_other_mm
    (NaN where not measured; mm only on calibrated films), ccd_side_ratio_pct (a stored ratio of a
    film without calibration), union (none, partial, united or another word), reader_id.

    `complications`: procedure_id (of the index procedure), kind, onset_on (NaT where not known) and
    detected_on. Nothing after `cutoff` is in any of them.
    """

    cases: pd.DataFrame
    readings: pd.DataFrame
    complications: pd.DataFrame
    cutoff: date


@dataclass(frozen=True)
class Applied:
    """A definition applied to data: one verdict for each case, and what it was taken from.

    `verdicts` has the columns VERDICT_COLUMNS. `films` has procedure_id, taken_on and, for films,
    measure (the number compared with the threshold) and lost; for harms, kind, with the event's day
    as taken_on.
    """

    definition: EndpointDefinition
    verdicts: pd.DataFrame
    films: pd.DataFrame = field(default_factory=pd.DataFrame)


Apply = Callable[[EndpointDefinition, Data], Applied]


def empty_verdicts(cases: pd.DataFrame) -> pd.DataFrame:
    """Return a table of verdicts with nothing known yet, for the same cases."""
    text = np.full(len(cases), "", dtype=object)
    day = np.full(len(cases), NEVER)
    columns = {
        name: text if name in ("not_evaluable", "competing") else day for name in VERDICT_COLUMNS
    }
    return pd.DataFrame(columns, index=cases.index)


def with_competing(
    verdicts: pd.DataFrame, cases: pd.DataFrame, competing: tuple[str, ...]
) -> pd.DataFrame:
    """Add the first competing event of each case: revision or death; on one day the revision."""
    died = (cases["patient_status"] == "died").to_numpy()
    days = {
        "revision": cases["revised_on"].to_numpy(),
        "death": np.where(died, cases["status_on"].to_numpy(), NEVER),
    }
    revision, death = (
        day if name in competing else np.full(len(cases), NEVER) for name, day in days.items()
    )
    first = np.fmin(revision, death)
    verdicts["competing_on"] = first
    kind = np.where(first == revision, "revision", "death")
    verdicts["competing"] = np.where(np.isnat(first), "", kind).astype(object)
    return verdicts
