"""Films that two people have read, neither led by the other: what each of them said."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

LENGTHS = ("ccd_injured_mm", "ccd_other_mm", "acd_injured_mm")
SAID = (*LENGTHS, "ratio_pct", "translation_pct", "union", "hardware")
# Of each column what it says that says nothing.
NOTHING = {"union": ("unknown", "not_applicable"), "hardware": ("unknown", "not_applicable")}
LEFT_OUT: dict[str, str] = {
    "not_blind": "no later reader was blind to the first",
    "corrected": "corrected by somebody who could see the other reading",
    "another_picture": "measured on another picture, or with another calibration of it",
}
# Columns that snapshots of before had not.
LATER_COLUMNS: dict[str, Any] = {
    "turn": 1,
    "acd_injured_mm": np.nan,
    "image_id": pd.NA,
    "frame": pd.NA,
    "calibration_id": pd.NA,
}


@dataclass(frozen=True)
class Pairs:
    """Films read twice: one row a film, and by reason how many others that several had read.

    `table` has film_id, procedure_id, taken_on, site; first_reader and second_reader; and of each of
    SAID the columns first_... and second_..., NaN or None where nothing was measured or judged.
    """

    table: pd.DataFrame
    left_out: Mapping[str, int]


def pairs(readings: pd.DataFrame, sites: "pd.Series[Any]") -> Pairs:
    """Return the films that were read twice, by the first reader and by the first blind one after.

    `readings` are current ones as in `Data`, with `turn`, `blind` and the picture that was measured;
    `sites` the site of each procedure. A third reading is left aside: it was asked for because two
    lay apart. Whoever corrects a reading after the other was made must have been blind as well, and
    two who measured on pictures must have had the same one with the same size of a pixel.
    """
    several = readings.loc[readings["film_id"].duplicated(keep=False)]
    missing = {name: value for name, value in LATER_COLUMNS.items() if name not in several}
    rows = several.assign(**missing).sort_values(["film_id", "turn", "reading_id"])
    rows = _as_said(rows)
    is_first = ~rows["film_id"].duplicated()
    first = rows.loc[is_first].set_index("film_id")
    blind = rows.loc[~is_first & rows["blind"].astype(bool)]
    second = blind.loc[~blind["film_id"].duplicated()].set_index("film_id")
    found = first.join(second[_OWN].add_suffix("_of_second"), how="inner")
    later_first = found["reading_id"] > found["reading_id_of_second"]
    corrected = later_first & ~found["blind"].astype(bool)
    elsewhere = ~corrected & _is_elsewhere(found)
    left = {
        "not_blind": len(first) - len(found),
        "corrected": int(corrected.sum()),
        "another_picture": int(elsewhere.sum()),
    }
    kept = found.loc[~corrected & ~elsewhere].reset_index()
    table = kept[["film_id", "procedure_id", "taken_on"]].copy()
    table["site"] = sites.reindex(kept["procedure_id"]).to_numpy()
    for name in ("reader_id", *SAID):
        told = "reader" if name == "reader_id" else name
        table[f"first_{told}"] = kept[name].to_numpy()
        table[f"second_{told}"] = kept[f"{name}_of_second"].to_numpy()
    return Pairs(table, left)


_PICTURE = ("image_id", "frame", "calibration_id")
_OWN = ["reading_id", "reader_id", "blind", *SAID, *_PICTURE]


def _as_said(rows: pd.DataFrame) -> pd.DataFrame:
    """Let lengths count on calibrated films alone, and what nobody could judge be nothing."""
    from_mm = (rows["ccd_injured_mm"] - rows["ccd_other_mm"]) / rows["ccd_other_mm"] * 100
    said: dict[str, Any] = {"ratio_pct": from_mm.fillna(rows["ccd_side_ratio_pct"])}
    for name in LENGTHS:
        said[name] = rows[name].where(rows["calibrated"].astype(bool))
    for name, words in NOTHING.items():
        said[name] = rows[name].astype(object).where(~rows[name].isin(words), None)
    return rows.assign(**said)


def _is_elsewhere(found: pd.DataFrame) -> "pd.Series[bool]":
    both = found["image_id"].notna() & found["image_id_of_second"].notna()
    unlike = pd.Series(False, found.index)
    for name in _PICTURE:
        one, two = found[name], found[f"{name}_of_second"]
        unlike |= ~((one == two).fillna(False).astype(bool) | (one.isna() & two.isna()))
    return both & unlike
