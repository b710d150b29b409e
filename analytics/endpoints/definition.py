"""What an endpoint definition is, and the table of verdicts that applying one gives."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Literal

import numpy as np
import pandas as pd

from analytics.endpoints.films import per_film

NEVER = np.datetime64("NaT", "ns")
NO_FILM = -1

REASONS: dict[str, str] = {
    "no_baseline": "no measurable film in the baseline window",
    "other_shoulder": "the other shoulder is not an uninjured reference",
    "not_reduced": "over the threshold on the first film already: there was no reduction to lose",
    "not_a_fracture": "not a fracture",
    "no_film": "no comparable film at or after the horizon",
    "not_seen": "not seen at or after the horizon",
    "between": "found later; whether it had happened by the horizon is not known",
    "unconfirmed": "over the threshold on the last film only: no second film has confirmed it",
    "window_open": "the horizon's window is still open",
    "withdrawn": "withdrew before the horizon",
    "moved": "moved away before the horizon",
}

Rule = Literal[
    "rise_mm",
    "side_ratio_pct",
    "side_difference_mm",
    "displacement",
    "united",
    "nonunion",
    "delayed_union",
    "complication",
]
HAPPENED: dict[str, str] = {
    "united": "united",
    "nonunion": "not united",
    "delayed_union": "united late",
    "complication": "event",
}
Reference = Literal["first_film", "both", "none"]
WithinError = Literal["as_measured", "held"]

# Column names of a table of verdicts, indexed by procedure_id.
VERDICT_COLUMNS = (
    "not_evaluable",  # reason code, '' when the case can be judged at all
    "unknown",  # reason code where films leave the event open, else ''
    "baseline_on",
    "seen_until",  # last film, or last day seen, on which the event had not happened
    "event_on",  # first film, or day, on which it had
    "partial",  # held, but partly: over `partial_from` on the last film that held
    "baseline_film",  # the films that decided; NO_FILM where there is none
    "seen_film",
    "event_film",
    "competing_on",
    "competing",  # 'revision', 'removal', 'death' or ''
)
TEXTS = ("not_evaluable", "unknown", "competing")
FILMS = ("baseline_film", "seen_film", "event_film")
TURN = ["event_on", "seen_until", "event_film", "seen_film"]


@dataclass(frozen=True)
class EndpointDefinition:
    """A named, versioned rule with its source.

    `threshold` is in mm or per cent by `rule`; `inclusive` says whether the threshold itself counts.
    `baseline_days` is the last day after the operation on which a film can be the baseline.
    `reference` says what a film is compared with: the first film, or both the other side and a first
    film that was within the threshold. `same_view` and `same_posture` keep films apart from the first
    that were not taken like it; an unknown posture is compared with any. `confirmed` asks for a second
    film, or a revision, before a loss counts. A change since the first film of less than `mdc_mm`, the
    minimal detectable change, is said to be within measurement error, and `within_error` says whether
    it is held whatever the threshold says. From `partial_from` on a case that held is called partial.
    `competing` names what can come first. `kinds` limits a harm to some complications, `within_days`
    to those that began by that day after the operation. Before `from_days` nothing can be asked.
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
    reference: Reference = "none"
    same_view: bool = False
    same_posture: bool = False
    confirmed: bool = False
    mdc_mm: float | None = None
    within_error: WithinError = "as_measured"
    event_is_harm: bool = True
    competing: tuple[str, ...] = ("revision", "death")
    kinds: tuple[str, ...] = ()
    within_days: int | None = None
    partial_from: float | None = None
    from_days: int = 0

    @property
    def label(self) -> str:
        """Name and version, as every figure prints them."""
        return f"{self.name} (version {self.version})"

    @property
    def happened(self) -> str:
        """The word for a case that had the event."""
        return HAPPENED.get(self.rule, "lost")


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
    film without calibration), translation_pct, union (none, partial, united or another word),
    hardware (intact, loose, broken, migrated, removed or another word), reader_id.

    `complications`: procedure_id (of the index procedure), kind, onset_on (NaT where not known) and
    detected_on. Nothing after `cutoff` is in any of them.
    """

    cases: pd.DataFrame
    readings: pd.DataFrame
    complications: pd.DataFrame
    cutoff: date

    @cached_property
    def films(self) -> pd.DataFrame:
        """One row a film (see `per_film`), made once however many definitions are applied."""
        return per_film(self.readings)


@dataclass(frozen=True)
class Applied:
    """A definition applied to data: one verdict for each case, and what it was taken from.

    `verdicts` has the columns VERDICT_COLUMNS. `films` has procedure_id, taken_on and, for films,
    film_id, measure (the number compared with the threshold), lost and within_error; for harms, kind,
    with the event's day as taken_on. `readings` are the readings behind the films.
    """

    definition: EndpointDefinition
    verdicts: pd.DataFrame
    films: pd.DataFrame = field(default_factory=pd.DataFrame)
    readings: pd.DataFrame = field(default_factory=pd.DataFrame)

    def of(self, keys: Iterable[int]) -> "Applied":
        """Return what was found for some of the cases.

        Raises KeyError when one is not among those judged.
        """
        some = self.verdicts.loc[list(keys)]
        parts = {
            name: frame if frame.empty else frame.loc[frame["procedure_id"].isin(some.index)]
            for name, frame in (("films", self.films), ("readings", self.readings))
        }
        return Applied(self.definition, some, **parts)


Apply = Callable[[EndpointDefinition, Data], Applied]


def empty_verdicts(cases: pd.DataFrame) -> pd.DataFrame:
    """Return a table of verdicts with nothing known yet, for the same cases."""
    size = len(cases)

    def nothing(name: str) -> object:
        if name in TEXTS:
            return np.full(size, "", dtype=object)
        if name in FILMS:
            return np.full(size, NO_FILM)
        return np.zeros(size, dtype=bool) if name == "partial" else np.full(size, NEVER)

    return pd.DataFrame({name: nothing(name) for name in VERDICT_COLUMNS}, index=cases.index)


def with_competing(
    verdicts: pd.DataFrame, cases: pd.DataFrame, competing: tuple[str, ...]
) -> pd.DataFrame:
    """Add the first competing event of each case; on one day a revision comes before the others."""
    died = (cases["patient_status"] == "died").to_numpy()
    days = {
        "revision": cases["revised_on"].to_numpy(),
        "removal": cases["removed_on"].to_numpy(),
        "death": np.where(died, cases["status_on"].to_numpy(), NEVER),
    }
    first = np.full(len(cases), NEVER)
    kind = np.full(len(cases), "", dtype=object)
    for name, day in days.items():
        if name in competing:
            earlier = (day < first) | (np.isnat(first) & ~np.isnat(day))
            first, kind = np.where(earlier, day, first), np.where(earlier, name, kind)
    verdicts["competing_on"] = first
    verdicts["competing"] = kind.astype(object)
    return verdicts
