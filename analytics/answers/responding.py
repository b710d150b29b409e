"""How many answer questionnaires at each horizon, and who does not."""

from dataclasses import dataclass

import pandas as pd

from analytics.answers.completeness import Share, due_reviews
from analytics.answers.horizons import HORIZONS
from analytics.answers.outcomes import percent

# Below this a society's working group finds scores hard to read (cited in Pronk, J Patient Rep
# Outcomes 2019;3:31); others ask for up to 100 %, so that it is a mark and no pass.
FEW = 0.6


@dataclass(frozen=True)
class Response:
    """Of the reviews of a horizon that wanted a patient's own score, so many have one."""

    horizon: str
    name: str
    share: Share
    answered: tuple[int, ...]
    silent: tuple[int, ...]

    @property
    def few(self) -> bool:
        """Whether fewer answered than the mark."""
        found = self.share.estimate
        return found is not None and found.estimate < FEW

    @property
    def words(self) -> str:
        """The share with its interval, or that there is nobody to count."""
        found = self.share.estimate
        if found is None:
            return "nobody to count"
        return f"{percent(found.estimate)} ({percent(found.low)} to {percent(found.high)})"


def answer(
    reviews: pd.DataFrame, scores: pd.DataFrame, cutoff: pd.Timestamp, own: frozenset[str]
) -> tuple[Response, ...]:
    """Return the response at each horizon, in order; `own` are the instruments patients answer.

    Counted are reviews whose window is over, which were to be held, and whose step asked for such a
    score. A score counts for a horizon when its day lies in that review's window or visit.
    """
    due = due_reviews(reviews, cutoff)
    asked = due["scores_required"].astype(str).map(lambda codes: bool(own & set(codes.split(","))))
    due = due.loc[asked.astype(bool)]
    given = scores.loc[scores["instrument"].isin(own) & scores["total"].notna()]
    return tuple(_response(code, due, given) for code in HORIZONS if (due["horizon"] == code).any())


def _response(code: str, due: pd.DataFrame, given: pd.DataFrame) -> Response:
    wanted = due.loc[due["horizon"] == code, "procedure_id"].drop_duplicates()
    answered = wanted.isin(given.loc[given["horizon"] == code, "procedure_id"])
    return Response(
        horizon=code,
        name=HORIZONS[code].name,
        share=Share(int(answered.sum()), len(wanted)),
        answered=tuple(wanted[answered].tolist()),
        silent=tuple(wanted[~answered].tolist()),
    )


def to_rows(found: tuple[Response, ...]) -> list[dict[str, object]]:
    """Return the responses as plain rows; shares, not percentages."""
    rows: list[dict[str, object]] = []
    for one in found:
        share = one.share.estimate
        rows.append(
            {
                "horizon": one.name,
                "wanted": one.share.of,
                "answered": one.share.number,
                "did_not_answer": len(one.silent),
                "share": share.estimate if share else None,
                "low": share.low if share else None,
                "high": share.high if share else None,
            }
        )
    return rows
