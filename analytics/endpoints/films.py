"""One value for each film: several readers' current readings are averaged for lengths."""

from typing import Any

import pandas as pd

VIEW_ORDER = {"zanca": 0, "ap": 1, "chest": 2, "axillary": 3}


def per_film(readings: pd.DataFrame) -> pd.DataFrame:
    """Return one row for each film, in order of procedure, date and preferred view.

    Lengths are means of the current readings and in mm count only on calibrated films. `ratio_pct`
    needs no calibration: both sides are on one exposure; it falls back on the ratio that a reader
    stored. Union is 'united' only when every reader who judged it says so.
    """
    rows = readings.copy()
    from_mm = (rows["ccd_injured_mm"] - rows["ccd_other_mm"]) / rows["ccd_other_mm"] * 100
    rows["ratio_pct"] = from_mm.fillna(rows["ccd_side_ratio_pct"])
    for name in ("ccd_injured_mm", "ccd_other_mm"):
        rows[name] = rows[name].where(rows["calibrated"])
    rows["judged"] = rows["union"].isin(["none", "partial", "united"])
    rows["united"] = (rows["union"] == "united").astype(float).where(rows["judged"])
    by_film = rows.groupby("film_id", sort=False)
    firsts = by_film[["procedure_id", "taken_on", "view", "position"]].first()
    lengths = by_film[["ccd_injured_mm", "ccd_other_mm", "ratio_pct"]].mean()
    films = firsts.join(lengths)
    films["judged"] = by_film["judged"].any()
    films["united"] = by_film["united"].min() == 1
    films["rank"] = films["view"].map(VIEW_ORDER).fillna(9).astype(int)
    return films.reset_index().sort_values(["procedure_id", "taken_on", "rank", "film_id"])


def of_case(films: pd.DataFrame, values: "pd.Series[Any]") -> "pd.Series[Any]":
    """Return for each film the value of its case; `values` is indexed by procedure_id."""
    return pd.Series(values.reindex(films["procedure_id"]).to_numpy(), index=films.index)


def of_first_construct(films: pd.DataFrame, cases: pd.DataFrame) -> pd.DataFrame:
    """Leave out films that show a later fixation; `films` has a column `lost`.

    From the day of a revision on, a film shows what the revision did. One of that very day that
    shows the event was taken before it.
    """
    revised = of_case(films, cases["revised_on"])
    later = (films["taken_on"] > revised) | ((films["taken_on"] == revised) & ~films["lost"])
    return films.loc[~later]


def turn(films: pd.DataFrame, cases: pd.Index) -> pd.DataFrame:
    """Return for each case the first film with the event and the last without it before that.

    Columns: event_on, seen_until. `films` has a column `lost`: whether a film shows the event.
    """
    first = films.loc[films["lost"]].groupby("procedure_id")["taken_on"].min()
    after = films["taken_on"] >= of_case(films, first)
    last = films.loc[~after].groupby("procedure_id")["taken_on"].max()
    return pd.DataFrame({"event_on": first.reindex(cases), "seen_until": last.reindex(cases)})
