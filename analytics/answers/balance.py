"""Are those who were followed like those who were lost? Standardised differences."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from analytics.answers.outcomes import groups_of
from analytics.endpoints.definition import Applied
from analytics.estimators.balance import difference_of_means, difference_of_shares

# The line above which a difference is looked at; some authors take 0.25.
LINE = 0.1
LINE_SOURCE = "Normand, J Clin Epidemiol 2001;54:387 and Austin, Stat Med 2009;28:3083"
EARLY_DAYS = 91
UNKNOWN = ("not recorded", "unknown", "")


@dataclass(frozen=True)
class Trait:
    """One characteristic in both groups.

    For a mean: how many are known, mean and standard deviation. For a share: how many have it, of
    how many known. `difference` is in standard deviations, None where it cannot be formed.
    """

    label: str
    one: str
    two: str
    difference: float | None

    @property
    def apart(self) -> bool:
        """Whether the groups differ by more than the line."""
        return self.difference is not None and abs(self.difference) > LINE


@dataclass(frozen=True)
class Comparison:
    """Two groups of cases and their characteristics."""

    one: str
    two: str
    numbers: tuple[int, int]
    traits: tuple[Trait, ...]


def with_early_results(
    applied: Applied, cases: pd.DataFrame, complications: pd.DataFrame, scores: pd.DataFrame
) -> pd.DataFrame:
    """Add to the cases what was known of them by three months: event, complication, pain at 6 weeks.

    A case that nobody looked at has no early pain; event and
    complication are 'not found' then, so that their shares are lower bounds.
    """
    early = cases["performed_on"] + pd.Timedelta(days=EARLY_DAYS)
    harmed = complications.merge(early.rename("until"), left_on="procedure_id", right_index=True)
    found = harmed.loc[harmed["detected_on"] <= harmed["until"], "procedure_id"]
    pains = scores.loc[(scores["instrument"] == "pain_nrs") & (scores["horizon"] == "6w")]
    pain = pains.groupby("procedure_id")["total"].last()
    return cases.assign(
        early_event=(applied.verdicts["event_on"] <= early).to_numpy(),
        early_harm=cases.index.isin(found),
        early_pain=pain.reindex(cases.index).astype(float),
    )


def compare(
    cases: pd.DataFrame, one: "pd.Index[Any]", two: "pd.Index[Any]", names: tuple[str, str]
) -> Comparison:
    """Compare two groups of the cases, which have the columns of `with_early_results`."""
    groups = cases.loc[one], cases.loc[two]
    traits: list[Trait] = []
    if len(one) and len(two):
        traits += [_mean("Age, years", *(group["age_years"] for group in groups))]
        traits += _levels("", "sex", groups, {"male": "Men"})
        traits += _levels(
            "", "injury_kind", groups, {"lateral_clavicle": "Fracture (not AC joint)"}
        )
        traits += _levels("Construct ", "construct_type", groups)
        traits += _levels("Site ", "site", groups)
        traits += [
            _share("Complication found by 3 months", *(group["early_harm"] for group in groups)),
            _share("Event found by 3 months", *(group["early_event"] for group in groups)),
            _mean("Pain at 6 weeks, 0 to 10", *(group["early_pain"] for group in groups)),
        ]
    return Comparison(names[0], names[1], (len(one), len(two)), tuple(traits))


def _levels(
    prefix: str,
    column: str,
    groups: tuple[pd.DataFrame, pd.DataFrame],
    words: dict[str, str] | None = None,
) -> Iterator[Trait]:
    """Yield the share of each level of a column, or of the levels that have words."""
    both = [groups_of(group, column) for group in groups]
    levels = sorted(set(both[0]) | set(both[1])) if words is None else list(words)
    if words is None and len(levels) < 2:
        return
    known = [~values.isin(UNKNOWN) for values in both]
    for level in levels:
        label = words[level] if words else f"{prefix}{level}"
        if words:
            parts = [(values == level)[sure] for values, sure in zip(both, known, strict=True)]
        else:
            parts = [values == level for values in both]
        yield _share(label, *parts)


def _mean(label: str, one: Any, two: Any) -> Trait:
    values = [pd.to_numeric(part).to_numpy(dtype=float, na_value=np.nan) for part in (one, two)]
    words = [_mean_words(part[~np.isnan(part)]) for part in values]
    return Trait(label, words[0], words[1], difference_of_means(*values))


def _mean_words(known: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]") -> str:
    if known.size < 2:
        return f"{known.size} known"
    return f"{known.mean():.1f} (SD {known.std(ddof=1):.1f}; {known.size} known)"


def _share(label: str, one: Any, two: Any) -> Trait:
    parts = [np.asarray(part, dtype=bool) for part in (one, two)]
    words = [
        f"{part.sum()}/{part.size} ({100 * part.mean():.0f}%)" if part.size else "nobody known"
        for part in parts
    ]
    difference = None
    if min(part.size for part in parts):
        difference = difference_of_shares(float(parts[0].mean()), float(parts[1].mean()))
    return Trait(label, words[0], words[1], difference)


def to_rows(found: Comparison) -> list[dict[str, object]]:
    """Return the characteristics as plain rows."""
    return [
        {
            "characteristic": trait.label,
            f"{found.one} ({found.numbers[0]})": trait.one,
            f"{found.two} ({found.numbers[1]})": trait.two,
            "standardised_difference": trait.difference,
        }
        for trait in found.traits
    ]
