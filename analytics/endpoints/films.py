"""One value for each film: several readers' current readings are averaged for lengths."""

import pandas as pd

VIEW_ORDER = {"zanca": 0, "ap": 1, "chest": 2, "axillary": 3}
LENGTHS = ("ccd_injured_mm", "ccd_other_mm", "ccd_side_ratio_pct", "translation_pct")


def per_film(readings: pd.DataFrame) -> pd.DataFrame:
    """Return one row for each film, in order of procedure, date and preferred view.

    Lengths are means of the current readings; lengths in mm count only on calibrated films. Union is
    'united' only when every reader who judged it says so.
    """
    if readings.empty:
        return readings.assign(ratio_pct=pd.Series(dtype=float), rank=pd.Series(dtype=int))
    rows = readings.copy()
    for name in ("ccd_injured_mm", "ccd_other_mm"):
        rows[name] = rows[name].where(rows["calibrated"])
    from_mm = (rows["ccd_injured_mm"] - rows["ccd_other_mm"]) / rows["ccd_other_mm"] * 100
    rows["ratio_pct"] = from_mm.fillna(rows["ccd_side_ratio_pct"])
    judged = rows["union"].isin(["none", "partial", "united"])
    rows["judged"] = judged
    rows["united"] = (rows["union"] == "united").where(judged)
    films = rows.groupby("film_id", sort=False).agg(
        procedure_id=("procedure_id", "first"),
        taken_on=("taken_on", "first"),
        view=("view", "first"),
        position=("position", "first"),
        ccd_injured_mm=("ccd_injured_mm", "mean"),
        ccd_other_mm=("ccd_other_mm", "mean"),
        ratio_pct=("ratio_pct", "mean"),
        judged=("judged", "any"),
        united=("united", "min"),
        reading_ids=("reading_id", tuple),
    )
    films["rank"] = films["view"].map(VIEW_ORDER).fillna(9).astype(int)
    films["united"] = films["united"].fillna(value=False).astype(bool)
    return films.reset_index().sort_values(["procedure_id", "taken_on", "rank", "film_id"])
