"""One row a case: evaluable or why not, held or not, partly or wholly, between which films, by which."""

import numpy as np
import pandas as pd

from analytics.endpoints.definition import NO_FILM, Applied

PARTS = {
    "baseline_film": "first film",
    "seen_film": "last without it",
    "event_film": "first with it",
}


def table(applied: Applied) -> pd.DataFrame:
    """Return the verdicts for reading, indexed by procedure_id, whatever the horizon.

    Columns: evaluable; why_not (a code of REASONS, '' when evaluable); verdict (the definition's
    `happened` word, 'held', or '' where no film tells); extent ('complete', 'partial' or '');
    last_held_on and first_lost_on, between which it happened, after the one and up to the other;
    baseline_film, seen_film and event_film (NO_FILM where there is none).
    """
    verdicts = applied.verdicts
    evaluable = verdicts["not_evaluable"].to_numpy() == ""
    event, seen, competing = (
        verdicts[name].to_numpy() for name in ("event_on", "seen_until", "competing_on")
    )
    happened = evaluable & ~np.isnat(event) & ~(competing < event)
    held = evaluable & ~happened & ~np.isnat(seen)
    word = applied.definition.happened
    partial = held & verdicts["partial"].to_numpy()
    columns = {
        "evaluable": evaluable,
        "why_not": verdicts["not_evaluable"].to_numpy(),
        "verdict": np.select([happened, held], [word, "held"], default="").astype(object),
        "extent": np.select([happened, partial], ["complete", "partial"], default="").astype(
            object
        ),
        "last_held_on": seen,
        "first_lost_on": np.where(happened, event, np.datetime64("NaT", "ns")),
        **{name: verdicts[name].to_numpy() for name in PARTS},
    }
    return pd.DataFrame(columns, index=verdicts.index)


def deciding_readings(applied: Applied, keys: "pd.Index | list[int]") -> pd.DataFrame:
    """Return the readings that decided some cases: procedure_id, part (see PARTS), film and reading.

    Several readers of one film have all decided, since their readings are taken together.
    """
    some = applied.verdicts.loc[applied.verdicts.index.isin(keys)]
    parts = [
        pd.DataFrame({"procedure_id": some.index, "part": part, "film_id": some[name].to_numpy()})
        for name, part in PARTS.items()
    ]
    films = pd.concat(parts, ignore_index=True)
    films = films.loc[films["film_id"] != NO_FILM]
    if films.empty or applied.readings.empty:
        return pd.DataFrame(columns=["procedure_id", "part", "film_id", "reading_id"])
    read = applied.readings[["film_id", "reading_id"]]
    found = films.merge(read.loc[read["film_id"].isin(films["film_id"])], on="film_id")
    return found.sort_values(["procedure_id", "film_id", "reading_id"], ignore_index=True)
