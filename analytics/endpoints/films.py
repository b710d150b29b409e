"""One value for each film: several readers' current readings are averaged for lengths."""

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

VIEW_ORDER = {"zanca": 0, "ap": 1, "chest": 2, "axillary": 3}
LIFTED = ("loose", "broken", "migrated")
HOLDS = ("intact", "removed", "not_applicable")


def per_film(readings: pd.DataFrame) -> pd.DataFrame:
    """Return one row for each film, in order of procedure, date and preferred view.

    Lengths are means of the current readings and in mm count only on calibrated films. `ratio_pct`
    needs no calibration: both sides are on one exposure; it falls back on the ratio that a reader
    stored. Union is 'united' only when every reader who judged it says so; hardware is 'lifted' when
    any reader says so, and 'holds' when one judged it and none says so.
    """
    rows = readings.copy()
    from_mm = (rows["ccd_injured_mm"] - rows["ccd_other_mm"]) / rows["ccd_other_mm"] * 100
    rows["ratio_pct"] = from_mm.fillna(rows["ccd_side_ratio_pct"])
    for name in ("ccd_injured_mm", "ccd_other_mm"):
        rows[name] = rows[name].where(rows["calibrated"])
    rows["judged"] = rows["union"].isin(["none", "partial", "united"])
    rows["united"] = (rows["union"] == "united").astype(float).where(rows["judged"])
    rows["lifted"] = rows["hardware"].isin(LIFTED)
    rows["holds"] = rows["hardware"].isin(HOLDS)
    by_film = rows.groupby("film_id", sort=False)
    firsts = by_film[["procedure_id", "taken_on", "view", "position"]].first()
    lengths = by_film[["ccd_injured_mm", "ccd_other_mm", "ratio_pct", "translation_pct"]].mean()
    films = firsts.join(lengths)
    any_reader = by_film[["judged", "lifted", "holds"]].any()
    films[["judged", "lifted"]] = any_reader[["judged", "lifted"]]
    films["holds"] = any_reader["holds"] & ~any_reader["lifted"]
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

    Columns: event_on, seen_until, event_film, seen_film (-1 where there is none). `films` comes in
    the order of `per_film` and has a column `lost`: whether a film shows the event. Of a day's films
    that show no event the one of the preferred view is named.
    """
    found = pd.DataFrame(
        {
            "event_on": pd.Series(pd.NaT, cases, dtype="datetime64[ns]"),
            "seen_until": pd.Series(pd.NaT, cases, dtype="datetime64[ns]"),
            "event_film": -1,
            "seen_film": -1,
        },
        index=cases,
    )
    if films.empty:
        return found
    days, lost = _Days(films), films["lost"].to_numpy(dtype=bool)
    place = np.arange(lost.size)
    first = np.minimum.reduceat(np.where(lost, place, lost.size), days.case_starts)
    turned = first < lost.size
    first = np.where(turned, first, 0)
    # What was taken before the day of the first film with the event held.
    stop = np.where(turned, days.day_start[first], days.case_ends)
    held = stop > days.case_starts
    last = days.day_start[np.where(held, stop - 1, 0)]
    rows = cases.get_indexer(pd.Index(days.procedures))
    taken, ids = films["taken_on"].to_numpy(), films["film_id"].to_numpy()
    for on, which, at, has in (
        ("event_on", "event_film", first, turned),
        ("seen_until", "seen_film", last, held),
    ):
        known = has & (rows >= 0)
        for name, values in ((on, taken), (which, ids)):
            column = found[name].to_numpy(copy=True)
            column[rows[known]] = values[at[known]]
            found[name] = column
    return found


def confirm(films: pd.DataFrame, cases: pd.DataFrame) -> pd.DataFrame:
    """Let a film show the event only where the next day's films, or a revision, confirm it.

    Adds `awaits`: films over the threshold on the last day of a case that nothing has confirmed
    yet. They show neither. `films` is as for `turn`, with films of the first construct alone.
    """
    if films.empty:
        return films.assign(awaits=False)
    days, lost = _Days(films), films["lost"].to_numpy(dtype=bool)
    of_day = np.maximum.reduceat(lost, days.day_starts)
    case_of_day = films["procedure_id"].to_numpy()[days.day_starts]
    is_last = np.r_[case_of_day[1:] != case_of_day[:-1], True]
    again = np.r_[of_day[1:], False] & ~is_last
    was_revised = cases["revised_on"].reindex(case_of_day).notna().to_numpy()
    confirmed = of_day & (again | (is_last & was_revised))
    awaits = of_day & is_last & ~was_revised
    lengths = np.diff(np.r_[days.day_starts, lost.size])
    # A film of the day before the last that was confirmed itself confirms nothing new of the last.
    before = np.r_[False, confirmed[:-1] & ~is_last[:-1]]
    confirmed, awaits = confirmed | (of_day & before), awaits & ~before
    return films.assign(
        lost=lost & np.repeat(confirmed, lengths), awaits=np.repeat(awaits, lengths)
    )


class _Days:
    """Where each case and each of its days begins in a table of films that is in order."""

    def __init__(self, films: pd.DataFrame) -> None:
        keys, taken = films["procedure_id"].to_numpy(), films["taken_on"].to_numpy()
        new_case = np.r_[True, keys[1:] != keys[:-1]]
        new_day = new_case | np.r_[True, taken[1:] != taken[:-1]]
        place = np.arange(keys.size)
        self.case_starts: NDArray[np.intp] = np.flatnonzero(new_case)
        self.case_ends = np.r_[self.case_starts[1:], keys.size]
        self.day_starts: NDArray[np.intp] = np.flatnonzero(new_day)
        self.day_start = np.maximum.accumulate(np.where(new_day, place, 0))
        self.procedures = keys[self.case_starts]
