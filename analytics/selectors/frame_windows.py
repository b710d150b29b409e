"""Which review's window holds a day: plain frames in, plain frames out, no query."""

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analytics.selectors.frame_rows import codes

Places = NDArray[np.int64]


def holding(dated: pd.DataFrame, reviews: pd.DataFrame) -> tuple[Places, Places]:
    """Return every pair of a dated row and a review that it counts for, as two arrays of places.

    A row counts for a review of its operation when its day lies between the opening of the window
    and its end, or the visit where that was later, or when it is the day of the visit. `dated` has
    procedure_id and on; `reviews` procedure_id, opens_on, closes_on, attended_on.
    """
    order = np.argsort(reviews["procedure_id"].to_numpy(), kind="stable")
    owners = reviews["procedure_id"].to_numpy()[order]
    wanted = dated["procedure_id"].to_numpy()
    first = np.searchsorted(owners, wanted, side="left")
    many = np.searchsorted(owners, wanted, side="right") - first
    row = np.repeat(np.arange(len(dated)), many)
    within = np.arange(row.size) - np.repeat(np.cumsum(many) - many, many)
    review = order[np.repeat(first, many) + within]
    on = dated["on"].to_numpy()[row]
    opens, closes, came = (
        reviews[name].to_numpy()[review] for name in ("opens_on", "closes_on", "attended_on")
    )
    keep = ((opens <= on) & (on <= np.fmax(closes, came))) | (on == came)
    return row[keep], review[keep]


def with_step(frame: pd.DataFrame, day: str, reviews: pd.DataFrame) -> pd.DataFrame:
    """Add step, horizon and in_window: of the review nearest in time that a row's day counts for.

    Step and horizon are '' where no review holds the day, and in_window is False then.
    """
    keys = frame[["procedure_id", day]].rename(columns={day: "on"})
    dated = keys.drop_duplicates().reset_index(drop=True)
    row, review = holding(dated, reviews)
    far = np.abs(dated["on"].to_numpy()[row] - reviews["due_on"].to_numpy()[review])
    order = np.lexsort((review, far, row))
    row, review = row[order], review[order]
    nearest = np.concatenate([[True], row[1:] != row[:-1]]) if row.size else np.zeros(0, bool)
    chosen = reviews.iloc[review[nearest]]
    found = dated.iloc[row[nearest]].assign(
        step=chosen["step"].to_numpy(dtype=object),
        horizon=chosen["horizon"].to_numpy(dtype=object),
        in_window=_inside(dated["on"].to_numpy()[row[nearest]], chosen),
    )
    joined = keys.merge(found, on=["procedure_id", "on"], how="left")
    return frame.assign(
        step=codes(joined["step"].fillna("")),
        horizon=codes(joined["horizon"].fillna("")),
        in_window=joined["in_window"].fillna(value=False).to_numpy(dtype=bool),
    )


def _inside(on: Any, reviews: pd.DataFrame) -> Any:
    return (reviews["opens_on"].to_numpy() <= on) & (on <= reviews["closes_on"].to_numpy())
