"""Columns of the patient, the injury, the operation and its construct."""

from followup.rules.case_columns.column import Column, Kind, code, count, required, tenth, text

YES_NO = ("yes", "no", "unknown")
GRADES = ("consultant", "fellow", "trainee", "other", "not_applicable", "unknown")

PERSON = (
    *required(
        Column(
            "local_id",
            "person",
            "local_id",
            Kind.IDENTIFIER,
            "the patient's number at this site",
            longest=60,
        ),
        Column("family_name", "person", "family_name", Kind.NAME, "family name", longest=80),
        Column("given_name", "person", "given_name", Kind.NAME, "given name", longest=80),
        Column("birth_date", "person", "birth", Kind.PARTIAL_DAY, "date of birth"),
    ),
    code("sex", "person", "sex", "female", "male", "other", "unknown"),
    text("phone", "person", "phone", "telephone number", 30),
)

INJURY = (
    *required(
        code(
            "injury_kind", "injury", "what is injured", "lateral_clavicle", "ac_joint", field="kind"
        ),
        Column("injury_date", "injury", "injured", Kind.PARTIAL_DAY, "date of the injury"),
        code("side", "injury", "injured side, as a word", "left", "right"),
    ),
    code(
        "mechanism",
        "injury",
        "how it happened",
        "fall_standing",
        "fall_height",
        "bicycle",
        "road",
        "sport",
        "other",
        "unknown",
    ),
    code("energy", "injury", "energy of the injury", "low", "high", "unknown"),
    code("skin", "injury", "closed or open", "closed", "open", "unknown"),
    code("dominant_arm", "injury", "dominant arm", "left", "right", "both", "unknown"),
    code(
        "other_shoulder",
        "injury",
        "state of the other shoulder: only an uninjured one is a reference",
        "uninjured",
        "injured_before",
        "operated_before",
        "unknown",
    ),
    code("neer", "class", "Neer class, Craig's form", "I", "IIA", "IIB", "IIC", "III", "IV", "V"),
    code("ao_ota", "class", "AO/OTA class, 2018", "15.3A", "15.3B", "15.3C"),
    code("rockwood", "class", "Rockwood class", "I", "II", "III", "IIIA", "IIIB", "IV", "V", "VI"),
    code("smoking", "injury", "smoking at injury", "never", "former", "current", "unknown"),
    code("diabetes", "injury", "diabetes at injury", *YES_NO),
    tenth("bmi", "injury", "body mass index at injury", "kg/m2", field="bmi_kg_m2"),
    code("steroid_use", "injury", "regular steroids at injury", *YES_NO),
    code("osteoporosis", "injury", "known osteoporosis", *YES_NO),
    code(
        "work_demand",
        "injury",
        "load at work",
        "low",
        "moderate",
        "high",
        "not_applicable",
        "unknown",
    ),
    code("sport_demand", "injury", "sport", "none", "recreational", "contact", "unknown"),
)

PROCEDURE = (
    *required(
        Column("procedure_date", "procedure", "performed_on", Kind.DAY, "date of the fixation")
    ),
    Column("surgeon", "procedure", "surgeon", Kind.LISTED, "user name of the operating surgeon"),
    code("operator_grade", "procedure", "grade of the operator", *GRADES),
    code("assistant_grade", "procedure", "grade of the assistant", *GRADES),
    code("position", "procedure", "position", "beach_chair", "supine", "other", "unknown"),
    code(
        "approach",
        "procedure",
        "approach",
        "transverse",
        "skin_lines",
        "arthroscopic",
        "other",
        "unknown",
    ),
    code("provisional_fixation", "procedure", "provisional fixation used", *YES_NO),
    code(
        "reduction_quality",
        "procedure",
        "reduction at the end",
        "anatomical",
        "near",
        "poor",
        "unknown",
    ),
    code("intraoperative_film", "procedure", "film before closing", *YES_NO),
    count("duration_minutes", "procedure", "skin to skin", "minutes"),
)

CONSTRUCT = (
    *required(
        Column("construct_type", "construct", "construct_type", Kind.LISTED, "construct type")
    ),
    count("plate_holes", "construct", "length of the plate", "holes"),
    count("lateral_screw_count", "construct", "screws in the lateral fragment"),
    tenth("lateral_screw_diameter_mm", "construct", "diameter of the lateral screws", "mm"),
    tenth("lateral_drill_mm", "construct", "drill for the lateral screws", "mm"),
    code("lateral_screws_locking", "construct", "lateral screws locked", *YES_NO),
    count("shaft_screw_count", "construct", "screws in the shaft"),
    tenth("shaft_screw_diameter_mm", "construct", "diameter of the shaft screws", "mm"),
    tenth("shaft_drill_mm", "construct", "drill for the shaft screws", "mm"),
    count("shaft_cortices", "construct", "cortices held in the shaft"),
    count("anchor_count", "construct", "suture anchors in the coracoid"),
    count("button_count", "construct", "buttons"),
    count("free_slots_count", "construct", "slots left free above the coracoid"),
    count("retainer_count", "construct", "suture retainers"),
    text("suture_kind", "construct", "suture_kind", "kind of suture, in generic words", 60),
    code(
        "knot",
        "construct",
        "knot",
        "surgeons_knot",
        "other",
        "knotless",
        "not_applicable",
        "unknown",
    ),
    count("half_hitch_count", "construct", "reversing half hitches after the knot"),
    code("graft", "construct", "graft", "none", "autograft", "allograft", "synthetic", "unknown"),
    code(
        "first_two_screws",
        "construct",
        "first two screws, seen from the fracture",
        "one_each_side",
        "same_side",
        "not_applicable",
        "unknown",
    ),
    code(
        "guide_wire_clear",
        "construct",
        "wire in the lateral guide hole clear of the joint on the film",
        "yes",
        "no",
        "not_shown",
        "not_applicable",
        "unknown",
    ),
    code(
        "shorter_screw_chosen",
        "construct",
        "the shorter one taken between two screw lengths",
        "yes",
        "no",
        "not_between",
        "not_applicable",
        "unknown",
    ),
    text(
        "departure_reason",
        "departure",
        "reason",
        "why the construct departs from a construct check",
        300,
    ),
)
