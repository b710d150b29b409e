"""What departments call the columns of their own lists: our fields in words of the trade, EN and DE.

Common practice, no source: the words are those that such lists use.
"""

from followup.rules.case_columns.followed import COMPLICATION_NUMBERS, TIMEPOINTS

# Two ways of writing a whole name in one column, and the fields that come of it.
FAMILY_FIRST, GIVEN_FIRST = "name_family_first", "name_given_first"

WORDS: dict[str, str] = {
    "local_id": "patient id|patient number|patient no|hospital number|hospital no|mrn|pid|id|number|"
    "case number|patientennummer|patienten nr|pat nr|pat id|fallnummer|krankenhausnummer|unit number",
    "family_name": "family name|surname|last name|nachname|familienname|name",
    "given_name": "given name|first name|forename|christian name|vorname",
    FAMILY_FIRST: "name|patient name|full name|name of patient|patient|patientenname|name vorname",
    "birth_date": "birth date|date of birth|dob|born|birthday|"
    "geburtsdatum|geb datum|geb dat|geb|geburtstag|geb am|geboren am|geboren",
    "sex": "sex|gender|geschlecht|m f|w m",
    "phone": "phone|telephone|tel|mobile|phone number|telefon|telefonnummer|handy",
    "injury_kind": "injury|injury kind|kind of injury|diagnosis|diagnose|verletzung|verletzungsart|fracture or dislocation",
    "injury_date": "injury date|date of injury|doi|accident date|date of accident|trauma date|unfalldatum|unfalltag|verletzungsdatum|"
    "unfall am|unfall vom|datum unfall|datum des unfalls|verunfallt am|verletzt am|verletzung am|verletzung vom|trauma am|traumadatum",
    "side": "side|laterality|injured side|l r|left right|seite|betroffene seite",
    "mechanism": "mechanism|mechanism of injury|moi|cause|unfallmechanismus|unfallhergang|mechanismus",
    "energy": "energy|energy of injury|high energy|energie",
    "skin": "skin|open closed|open or closed|offen geschlossen|weichteile",
    "dominant_arm": "dominant arm|dominance|handedness|dominant hand|dominante seite|haendigkeit",
    "other_shoulder": "other shoulder|contralateral shoulder|opposite shoulder|gegenseite|andere schulter",
    "neer": "neer|neer class|neer type|neer classification|neer typ|craig",
    "ao_ota": "ao|ao ota|ao class|ao classification|ota|ao klassifikation",
    "rockwood": "rockwood|rockwood class|rockwood type|rockwood grade|rockwood typ|tossy rockwood",
    "smoking": "smoking|smoker|tobacco|raucher|nikotin|rauchen",
    "diabetes": "diabetes|diabetic|dm|zuckerkrankheit",
    "bmi": "bmi|body mass index",
    "steroid_use": "steroids|steroid use|cortisone|cortison|kortison",
    "osteoporosis": "osteoporosis|osteoporose",
    "work_demand": "work|work demand|occupation load|load at work|arbeit|koerperliche arbeit|berufsbelastung",
    "sport_demand": "sport|sports|sport demand|sport level|sportniveau",
    "procedure_date": "operation date|date of operation|surgery date|date of surgery|op date|dos|procedure date|"
    "date of fixation|operated on|op datum|operationsdatum|op tag|datum op|op am|op vom|operation am|operation vom|"
    "operiert am|eingriff am|eingriff vom|datum der op|datum des eingriffs|datum operation",
    "surgeon": "surgeon|operating surgeon|operator|consultant|operateur|chirurg",
    "operator_grade": "operator grade|grade of operator|surgeon grade|grade of surgeon",
    "assistant_grade": "assistant grade|grade of assistant",
    "position": "position|patient position|lagerung",
    "approach": "approach|incision|zugang",
    "provisional_fixation": "provisional fixation|temporary fixation|k wire|temporaere fixation",
    "reduction_quality": "reduction|reduction quality|quality of reduction|reposition|repositionsergebnis",
    "intraoperative_film": "intraoperative film|intraop film|intraoperative x ray|image intensifier|bildwandler|intraop roentgen",
    "duration_minutes": "duration|operating time|op time|skin to skin|minutes|op dauer|schnitt naht zeit|dauer",
    "construct_type": "construct|construct type|implant|fixation|device|method|treatment|technique|kind of fixation|"
    "implantat|verfahren|versorgung|osteosynthese|technik",
    "plate_holes": "plate holes|holes|plate length|plattenlochzahl|lochzahl",
    "lateral_screw_count": "lateral screws|number of lateral screws|laterale schrauben|anzahl laterale schrauben",
    "lateral_screw_diameter_mm": "lateral screw diameter|diameter lateral screws|durchmesser laterale schrauben",
    "lateral_screws_locking": "locking lateral screws|lateral screws locked|winkelstabil",
    "shaft_screw_count": "shaft screws|number of shaft screws|medial screws|schaftschrauben",
    "anchor_count": "anchors|number of anchors|suture anchors|anker|anzahl anker",
    "button_count": "buttons|number of buttons|anzahl buttons",
    "retainer_count": "retainers|suture retainers",
    "suture_kind": "suture|suture kind|suture material|faden|naht",
    "knot": "knot|knoten",
    "graft": "graft|tendon graft|transplantat|sehne",
    "departure_reason": "reason for departure|departure reason|remark on construct",
    "film_view": "film view|view|x ray view|projection|projektion|aufnahme",
    "film_posture": "posture|film posture|standing or lying|koerperhaltung",
    "film_weighted": "weighted|stress film|weights|weight bearing|belastungsaufnahme|mit gewicht",
    "film_calibration": "calibration|calibrated|scale|marker|kalibrierung|massstab",
    "revision_date": "revision date|date of revision|reoperation date|revisionsdatum|datum revision|revision am|revidiert am",
    "revision_construct_type": "revision construct|revision implant|revision type|revisionsimplantat",
    "removal_date": "removal date|date of removal|implant removal|hardware removal|plate removal|metal removal|"
    "me datum|materialentfernung|metallentfernung|datum me|me am|metallentfernung am|"
    "materialentfernung am|entfernt am",
    "removal_planned": "planned removal|removal planned|geplante entfernung|me geplant",
    "died_on": "death|date of death|died|deceased|verstorben|todesdatum|todestag|verstorben am|gestorben am",
    "withdrew_on": "withdrawn|withdrawal|date of withdrawal|ausgeschieden|widerruf|ausgeschieden am|widerrufen am",
    "moved_on": "moved|moved away|lost moved|verzogen|verzogen am|umgezogen am",
}

TIMES: dict[str, str] = {
    "6w": "6w|6 w|6 weeks|6 week|6 wk|6wk|6 wochen|6 wo|6wo",
    "3m": "3m|3 m|3 months|3 month|3 mo|12 weeks|12 w|12w|3 monate|12 wochen",
    "6m": "6m|6 m|6 months|6 month|6 mo|6 monate|26 weeks",
    "12m": "12m|12 m|12 months|12 month|12 mo|1 year|1y|1 yr|12 monate|1 jahr|1j",
    "24m": "24m|24 m|24 months|24 month|24 mo|2 years|2 year|2y|2 yr|24 monate|2 jahre|2j",
}
BASELINE = (
    "baseline|postop|post op|postoperative|postoperativ|first film|erste aufnahme|direkt postop"
)
ON_FILM: dict[str, str] = {
    "view": "view|projection|projektion",
    "ccd_injured_mm": "ccd|ccd injured|cc distance|cc distance injured|coracoclavicular distance|"
    "ccd mm|ccd injured side|cc abstand|cc abstand verletzt",
    "ccd_other_mm": "ccd other|ccd other side|ccd contralateral|cc distance other|cc distance contralateral|cc abstand gegenseite",
    "ccd_ratio_pct": "ccd ratio|cc ratio|ratio|percent ccd|ccd percent",
}
AT_VISITS: dict[str, str] = {
    "date": "date|visit|visit date|follow up|fu|fu date|follow up date|review date|datum|kontrolle|nachkontrolle|kontrolle am|nachkontrolle am|untersucht am",
    **ON_FILM,
    "union": "union|healing|united|bony union|konsolidierung|heilung|durchbau",
    "hardware": "hardware|implant|hardware state|implantat|materiallage",
    "flexion_deg": "flexion|forward flexion|elevation|forward elevation|anteversion|flex",
    "abduction_deg": "abduction|abd|abduktion",
    "external_rotation_deg": "external rotation|er|ext rot|aussenrotation|ar",
    "pain": "pain|vas|nrs|pain vas|pain nrs|schmerz|schmerzen",
    "quickdash": "quickdash|quick dash|qdash|dash",
    "constant": "constant|constant score|constant murley|cms|cs|constant murley score",
}
EVENTS: dict[str, str] = {
    "kind": "complication|complication kind|complication type|komplikation",
    "date": "complication date|date of complication|komplikation datum|komplikation am",
    "grade": "complication grade|grade of complication|clavien dindo|clavien|komplikation schweregrad",
    "relation": "complication relation|complication related to|komplikation ursache",
}


def phrases() -> dict[str, tuple[str, ...]]:
    """Return for every field the ways in which lists name it; our own name comes first."""
    found = {name: (name.replace("_", " "), *words.split("|")) for name, words in WORDS.items()}
    for time in TIMEPOINTS:
        for suffix, words in AT_VISITS.items():
            own = f"f{time}_{suffix}"
            whens = TIMES[time].split("|")
            found[own] = (
                own.replace("_", " "),
                *(f"{when} {what}" for when in whens for what in words.split("|")),
                *(whens if suffix == "date" else ()),
            )
    found["baseline_film_date"] = (
        "baseline film date",
        *(
            f"{when} {what}"
            for when in BASELINE.split("|")
            for what in ("date", "film date", "film", "datum")
        ),
    )
    for suffix, words in ON_FILM.items():
        found[f"baseline_{suffix}"] = (
            f"baseline {suffix.replace('_', ' ')}",
            *(f"{when} {what}" for when in BASELINE.split("|") for what in words.split("|")),
        )
    for number in COMPLICATION_NUMBERS:
        for suffix, words in EVENTS.items():
            numbered = tuple(f"{what} {number}" for what in words.split("|"))
            bare = tuple(words.split("|")) if number == 1 else ()
            found[f"complication_{number}_{suffix}"] = (
                f"complication {number} {suffix}",
                *numbered,
                *bare,
            )
    return found
