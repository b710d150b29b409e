"""What departments write in coded columns: their words for our codes, in English and German.

Common practice, no source. A word that is not here is asked about and never guessed.
"""

import re
from collections.abc import Mapping, Sequence

from followup.rules.case_columns.column import Column, Kind
from registry.rules import missing
from registry.rules.matching import plain

LATER = re.compile(r"^(?:baseline|film|f\d+[wm]|complication_\d+)_")
YES = "yes|y|ja|j|true|1|x|positive|pos|present|vorhanden"
NO = "no|n|nein|false|0|none|negative|neg|absent|keine"
UNKNOWN = "unknown|unbekannt|unk|unklar|not known|?|ka|k a"
# By vocabulary and code; what stands under '' holds wherever the code is allowed.
WORDS: dict[str, dict[str, str]] = {
    "": {
        "yes": YES,
        "no": NO,
        "unknown": UNKNOWN,
        "other": "other|others|sonstige|sonstiges|andere|anderes|misc",
        "none": "none|no|nein|keine|kein|0",
        "not_applicable": "not applicable|na|n a|entfaellt|nicht zutreffend",
    },
    "sex": {
        "female": "female|f|w|weiblich|woman|frau|fem",
        "male": "male|m|maennlich|man|mann|mask",
        "other": "other|d|divers|x",
    },
    "side": {"left": "left|l|li|lt|links|lks", "right": "right|r|re|rt|rechts|rts"},
    "dominant_arm": {
        "left": "left|l|li|links",
        "right": "right|r|re|rechts",
        "both": "both|beide|b|ambidextrous",
    },
    "injury_kind": {
        "lateral_clavicle": "lateral clavicle|lateral clavicle fracture|distal clavicle|distal clavicle fracture|"
        "clavicle|clavicle fracture|laterale klavikula|laterale klavikulafraktur|laterale claviculafraktur|"
        "klavikulafraktur|claviculafraktur|lcf|dcf",
        "ac_joint": "ac joint|acj|ac|ac joint dislocation|acj dislocation|ac dislocation|acromioclavicular dislocation|"
        "acromioclavicular joint|ac gelenk|ac luxation|ac sprengung|acg|acg sprengung|acg luxation|schultereckgelenk",
    },
    "mechanism": {
        "fall_standing": "fall|simple fall|fall from standing|standing height|sturz|stolpersturz",
        "fall_height": "fall from height|height|stairs|treppensturz|sturz aus hoehe",
        "bicycle": "bicycle|bike|cycling|fahrrad|rad|fahrradsturz|velo",
        "road": "road|road traffic|rta|rtc|car|motorcycle|verkehrsunfall|motorrad|auto",
        "sport": "sport|sports|ski|football|rugby|fussball|sportunfall",
    },
    "energy": {"low": "low|niedrig|low energy|gering", "high": "high|hoch|high energy"},
    "skin": {"closed": "closed|geschlossen|intact|zu", "open": "open|offen"},
    "other_shoulder": {
        "uninjured": "uninjured|healthy|normal|gesund|unverletzt|ok",
        "injured_before": "injured|injured before|previous injury|vorverletzt",
        "operated_before": "operated|operated before|previous surgery|voroperiert",
    },
    "neer": {
        "IIA": "2a|ii a",
        "IIB": "2b|ii b",
        "IIC": "2c|ii c",
        "I": "1",
        "III": "3",
        "IV": "4",
        "V": "5",
    },
    "rockwood": {
        "I": "1",
        "II": "2",
        "III": "3",
        "IIIA": "3a|iii a",
        "IIIB": "3b|iii b",
        "IV": "4",
        "V": "5",
        "VI": "6",
    },
    "ao_ota": {"15.3A": "15 3a|153a|15a3", "15.3B": "15 3b|153b", "15.3C": "15 3c|153c"},
    "smoking": {
        "never": f"never|non smoker|nonsmoker|nichtraucher|nie|{NO}",
        "former": "former|ex|ex smoker|exraucher|frueher",
        "current": f"current|smoker|raucher|aktiv|{YES}",
    },
    "work_demand": {
        "low": "low|light|sedentary|office|leicht|buero",
        "moderate": "moderate|medium|mittel",
        "high": "high|heavy|manual|schwer",
        "not_applicable": "retired|rentner|none",
    },
    "sport_demand": {
        "recreational": "recreational|hobby|freizeit",
        "contact": "contact|kontaktsport",
    },
    "position": {
        "beach_chair": "beach chair|beachchair|sitting|halbsitzend",
        "supine": "supine|rueckenlage",
    },
    "approach": {
        "arthroscopic": "arthroscopic|arthroskopisch|ask",
        "transverse": "transverse|quer",
    },
    "reduction_quality": {
        "anatomical": "anatomical|anatomic|anatomisch|good|gut",
        "near": "near|near anatomical|fair|fast anatomisch",
        "poor": "poor|bad|schlecht",
    },
    "operator_grade": {
        "consultant": "consultant|attending|oberarzt|oa|chefarzt|ca|facharzt",
        "fellow": "fellow|funktionsoberarzt",
        "trainee": "trainee|resident|registrar|assistenzarzt|aa",
    },
    "view": {
        "ap": "ap|a p|anteroposterior|a p view",
        "zanca": "zanca|zanca view",
        "axillary": "axillary|axial|axiale",
        "chest": "chest|thorax|panorama",
    },
    "posture": {
        "upright": "upright|standing|sitting|stehend|sitzend",
        "supine": "supine|lying|liegend",
    },
    "calibration": {
        "marker": "marker|ball|kugel|calibrated|kalibriert",
        "detector": "detector|detektor|pixel spacing",
        "none": "none|no|nein|uncalibrated|keine|unkalibriert",
    },
    "union": {
        "none": "none|not united|no|nein|0|nicht durchbaut|keine",
        "partial": "partial|partly|in progress|teilweise|beginnend",
        "united": "united|healed|union|yes|ja|complete|durchbaut|konsolidiert|verheilt",
    },
    "hardware": {
        "intact": "intact|ok|in place|in situ|regelrecht|fest",
        "loose": "loose|loosened|loosening|locker|gelockert",
        "broken": "broken|breakage|failed|gebrochen|bruch",
        "migrated": "migrated|dislocated|backed out|disloziert|gewandert",
        "removed": "removed|out|entfernt|me",
    },
    "kind": {
        "infection_superficial": "superficial infection|wound infection|oberflaechlicher infekt|wundinfekt",
        "infection_deep": "deep infection|infection|tiefer infekt|infekt",
        "loss_of_fixation": "loss of fixation|loss of reduction|redislocation|repositionsverlust|dislokation",
        "implant_failure": "implant failure|hardware failure|plate breakage|implantatversagen|plattenbruch",
        "peri_implant_fracture": "peri implant fracture|periimplantaere fraktur|periprosthetic fracture",
        "nonunion": "nonunion|non union|pseudarthrose",
        "malunion": "malunion|fehlheilung",
        "subacromial_osteolysis": "subacromial osteolysis|osteolysis|acromial erosion|osteolyse",
        "hardware_irritation": "hardware irritation|irritation|prominent hardware|materialirritation",
        "skin_breakdown": "skin breakdown|wound breakdown|wound problem|wundheilungsstoerung",
        "nerve": "nerve|nerve injury|nerve lesion|nervenlaesion|nerv",
        "stiffness": "stiffness|frozen shoulder|steife|schultersteife",
        "refracture": "refracture|refraktur",
        "ac_arthrosis": "ac arthrosis|ac osteoarthritis|ac arthritis|ac arthrose",
    },
    "grade": {"I": "1", "II": "2", "III": "3|iiia|iiib|3a|3b", "IVa": "4a", "IVb": "4b", "V": "5"},
    "graft": {
        "autograft": "autograft|autologous|autolog",
        "allograft": "allograft|allogen",
        "synthetic": "synthetic|synthetisch",
    },
}


def vocabulary(column: Column) -> str:
    """Return the name under which columns that share their words share them."""
    if column.kind == Kind.LISTED:
        return "surgeon" if column.name == "surgeon" else "construct_type"
    return LATER.sub("", column.name)


def is_missing(word: str) -> bool:
    """Say whether a word says in which way a value is missing."""
    return missing.kind_of(word) is not None


def propose(
    column: Column,
    word: str,
    listed: Sequence[str] = (),
    named: Mapping[str, str] | None = None,
) -> str | None:
    """Return the code that a word means in a column; None where that is not known for certain.

    `listed` are the codes of the service where the column holds them, `named` their names.
    """
    folded = _folded(word)
    codes = listed if column.kind == Kind.LISTED else column.allowed
    for code in codes:
        if folded == _folded(code) or plain(word) == plain(code):
            return code
    if column.kind == Kind.LISTED:
        same = [code for code, name in (named or {}).items() if _folded(name) == folded]
        return same[0] if len(same) == 1 else None
    for key in (vocabulary(column), ""):
        for code, words in WORDS.get(key, {}).items():
            if code in codes and folded in words.split("|"):
                return code
    return None


def _folded(word: str) -> str:
    text = word.casefold().translate({0xE4: "ae", 0xF6: "oe", 0xFC: "ue", 0xDF: "ss"})
    return " ".join(re.sub(r"[^\w?]+", " ", text).split())
