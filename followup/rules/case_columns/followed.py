"""Columns of the films, visits and unwanted events after the operation, and of how it ended."""

from dataclasses import replace

from followup.rules.case_columns.column import Column, Kind, code, tenth

YES_NO = ("yes", "no", "unknown")
VIEWS = ("ap", "zanca", "axillary", "chest", "other")
UNION = ("none", "partial", "united", "not_applicable", "unknown")
HARDWARE = ("intact", "loose", "broken", "migrated", "removed", "not_applicable", "unknown")
COMPLICATIONS = (
    "infection_superficial",
    "infection_deep",
    "loss_of_fixation",
    "implant_failure",
    "peri_implant_fracture",
    "nonunion",
    "malunion",
    "subacromial_osteolysis",
    "impingement",
    "hardware_irritation",
    "skin_breakdown",
    "nerve",
    "stiffness",
    "refracture",
    "unplanned_reoperation",
    "ac_arthrosis",
    "other",
)
TIMEPOINTS = ("6w", "3m", "6m", "12m", "24m")
COMPLICATION_NUMBERS = (1, 2, 3)

FILM_DEFAULTS = (
    code(
        "film_view",
        "film",
        "view of the row's films, where not given for one",
        *VIEWS,
        field="view",
    ),
    code(
        "film_posture",
        "film",
        "posture on the row's films",
        "upright",
        "supine",
        "unknown",
        field="posture",
    ),
    code("film_weighted", "film", "weights held on the row's films", *YES_NO, field="weighted"),
    code(
        "film_calibration",
        "film",
        "calibration of the row's films: lengths in mm count only with one",
        "marker",
        "detector",
        "none",
        "unknown",
        field="calibration",
    ),
)


def _measured(prefix: str, needs: str) -> tuple[Column, ...]:
    group = prefix.rstrip("_")
    columns = (
        code(f"{prefix}view", group, "view of this film", *VIEWS, field="view"),
        tenth(
            f"{prefix}ccd_injured_mm",
            group,
            "CC distance of the injured side",
            "mm",
            field="ccd_injured_mm",
        ),
        tenth(
            f"{prefix}ccd_other_mm",
            group,
            "CC distance of the other side, same film",
            "mm",
            field="ccd_other_mm",
        ),
        tenth(
            f"{prefix}ccd_ratio_pct",
            group,
            "(injured - other) / other x 100, where there are no lengths",
            "%",
            field="ccd_side_ratio_pct",
        ),
    )
    return tuple(replace(column, needs=needs) for column in columns)


BASELINE = (
    Column(
        "baseline_film_date",
        "baseline",
        "visited_on",
        Kind.DAY,
        "first film after the operation",
    ),
    *_measured("baseline_", "baseline_film_date"),
)


def follow_up(timepoint: str) -> tuple[Column, ...]:
    """Return the columns of one visit after the operation."""
    prefix, group = f"f{timepoint}_", f"f{timepoint}"
    found = (
        *_measured(prefix, f"{prefix}date"),
        code(f"{prefix}union", group, "union on the film", *UNION, field="union"),
        code(f"{prefix}hardware", group, "hardware on the film", *HARDWARE, field="hardware"),
        *(
            Column(f"{prefix}{name}_deg", group, f"{name}_deg", Kind.COUNT, words, "degrees")
            for name, words in (
                ("flexion", "active forward flexion"),
                ("abduction", "active abduction"),
                ("external_rotation", "active external rotation, arm at the side"),
            )
        ),
        *(
            Column(f"{prefix}{name}", group, code, Kind.SCORE, words)
            for name, code, words in (
                ("pain", "pain_nrs", "pain, 0 none to 10"),
                ("quickdash", "quickdash", "QuickDASH total, 0 best to 100"),
                ("constant", "constant", "Constant-Murley total, 0 to 100 best"),
            )
        ),
    )
    visit = Column(f"{prefix}date", group, "visited_on", Kind.DAY, "day of the visit and its film")
    columns = (visit, *(replace(column, needs=visit.name) for column in found))
    return tuple(
        replace(column, documented=column.name.replace(prefix, "f{T}_", 1)) for column in columns
    )


def complication(number: int) -> tuple[Column, ...]:
    """Return the columns of one unwanted event."""
    prefix, group = f"complication_{number}_", f"complication_{number}"
    kind = code(f"{prefix}kind", group, "unwanted event", *COMPLICATIONS, field="kind")
    day = Column(f"{prefix}date", group, "detected_on", Kind.DAY, "day on which it was found")
    grade = code(
        f"{prefix}grade",
        group,
        "grade by what was done about it",
        "I",
        "II",
        "III",
        "IVa",
        "IVb",
        "V",
        "unknown",
        field="grade",
    )
    relation = code(
        f"{prefix}relation",
        group,
        "what it comes from",
        "construct",
        "procedure",
        "neither",
        "unknown",
        field="relation",
    )
    columns = (
        replace(kind, needs=day.name),
        replace(day, needs=kind.name),
        *(replace(column, needs=kind.name) for column in (grade, relation)),
    )
    return tuple(
        replace(column, documented=column.name.replace(f"_{number}_", "_{N}_", 1))
        for column in columns
    )


LATER = (
    Column("revision_date", "revision", "performed_on", Kind.DAY, "date of a revision fixation"),
    Column(
        "revision_construct_type",
        "revision",
        "construct_type",
        Kind.LISTED,
        "construct type of the revision",
        needs="revision_date",
    ),
    Column("removal_date", "removal", "performed_on", Kind.DAY, "date of the implant removal"),
    replace(
        code(
            "removal_planned",
            "removal",
            "removal planned from the start (else as the construct type has it)",
            "yes",
            "no",
            field="planned",
        ),
        needs="removal_date",
    ),
    Column("died_on", "status", "died", Kind.DAY, "date of death"),
    Column("withdrew_on", "status", "withdrawn", Kind.DAY, "date of withdrawal"),
    Column("moved_on", "status", "moved", Kind.DAY, "date of moving away"),
)
