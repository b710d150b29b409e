"""Every column in the order of the file, the template with its two rows, and the documentation."""

from dataclasses import replace

from followup.rules.case_columns.column import Column
from followup.rules.case_columns.enrolled import CONSTRUCT, INJURY, PERSON, PROCEDURE
from followup.rules.case_columns.followed import (
    BASELINE,
    COMPLICATION_NUMBERS,
    FILM_DEFAULTS,
    LATER,
    TIMEPOINTS,
    complication,
    follow_up,
)

EXAMPLES: dict[str, tuple[str, str]] = {
    "local_id": ("000417", "000532"),
    "family_name": ("Anders", "Okafor-Lind"),
    "given_name": ("Mila", "Tom"),
    "birth_date": ("1986-04-12", "1961"),
    "sex": ("female", "male"),
    "injury_kind": ("lateral_clavicle", "ac_joint"),
    "injury_date": ("2025-02-03", "2025-03"),
    "side": ("left", "right"),
    "mechanism": ("bicycle", "sport"),
    "energy": ("high", "unknown"),
    "other_shoulder": ("uninjured", "uninjured"),
    "neer": ("IIB", ""),
    "rockwood": ("", "V"),
    "smoking": ("never", "former"),
    "bmi": ("23.4", "unknown"),
    "procedure_date": ("2025-02-06", "2025-03-21"),
    "construct_type": ("LP+A1", "HP"),
    "intraoperative_film": ("yes", "unknown"),
    "duration_minutes": ("85", "62"),
    "plate_holes": ("6", ""),
    "lateral_screw_count": ("6", ""),
    "lateral_screw_diameter_mm": ("2.3", ""),
    "lateral_screws_locking": ("yes", ""),
    "anchor_count": ("1", ""),
    "free_slots_count": ("1", ""),
    "retainer_count": ("1", ""),
    "film_view": ("zanca", "zanca"),
    "film_calibration": ("marker", "none"),
    "baseline_film_date": ("2025-02-08", "2025-03-22"),
    "baseline_ccd_injured_mm": ("9.1", ""),
    "baseline_ccd_other_mm": ("8.9", ""),
    "baseline_ccd_ratio_pct": ("", "4.5"),
    "f6w_date": ("2025-03-20", "2025-05-02"),
    "f6w_ccd_injured_mm": ("9.6", ""),
    "f6w_ccd_other_mm": ("8.9", ""),
    "f6w_ccd_ratio_pct": ("", "not done"),
    "f6w_union": ("partial", "not_applicable"),
    "f6w_flexion_deg": ("110", "95"),
    "f6w_pain": ("3", "4"),
    "f6w_quickdash": ("38.6", "unknown"),
    "complication_1_kind": ("", "subacromial_osteolysis"),
    "complication_1_date": ("", "2025-06-20"),
    "complication_1_grade": ("", "II"),
    "removal_date": ("", "2025-07-08"),
    "removal_planned": ("", "yes"),
}

COLUMNS: tuple[Column, ...] = tuple(
    replace(
        column,
        documented=column.documented or column.name,
        examples=EXAMPLES.get(column.name, ("", "")),
    )
    for column in (
        *PERSON,
        *INJURY,
        *PROCEDURE,
        *CONSTRUCT,
        *FILM_DEFAULTS,
        *BASELINE,
        *(column for timepoint in TIMEPOINTS for column in follow_up(timepoint)),
        *(column for number in COMPLICATION_NUMBERS for column in complication(number)),
        *LATER,
    )
)
BY_NAME: dict[str, Column] = {column.name: column for column in COLUMNS}
BY_GROUP: dict[str, tuple[Column, ...]] = {
    group: tuple(column for column in COLUMNS if column.group == group)
    for group in dict.fromkeys(column.group for column in COLUMNS)
}


def template() -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Return the header of the template file and its two invented rows."""
    header = tuple(column.name for column in COLUMNS)
    return header, [tuple(column.examples[row] for column in COLUMNS) for row in (0, 1)]


def documentation() -> list[str]:
    """Return the lines of the Markdown table that documents the columns."""
    shown = {column.documented: column for column in reversed(COLUMNS)}
    lines = ["| column | meaning | holds | required |", "|---|---|---|---|"]
    for name, column in reversed(shown.items()):
        lines.append(
            f"| `{name}` | {column.meaning} | {_holds(column)} | {'yes' if column.required else ''} |"
        )
    return lines


def _holds(column: Column) -> str:
    if column.allowed:
        return ", ".join(f"`{code}`" for code in column.allowed)
    kind = str(column.kind)
    return f"{kind}, {column.unit}" if column.unit else kind
