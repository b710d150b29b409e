"""Motion, scores, readings and findings as FHIR Observations: one fact each, or why it is missing."""

from collections.abc import Mapping, Sequence
from typing import Any

from followup.exchange.fhir.code_systems import coded
from followup.rules.scores.catalogue import INSTRUMENTS
from registry.exchange.fhir import terms
from registry.exchange.fhir.injuries import body_site
from registry.rules import missing
from registry.rules.fhir import loinc
from registry.rules.fhir.elements import (
    ABSENT,
    TERMINOLOGY,
    Json,
    absent,
    coding,
    compact,
    concept,
    named,
    quantity,
    reference,
)
from registry.rules.fhir.moments import instant

OTHER = {"left": "right", "right": "left"}
SCORE_UNIT = "{score}"
EXAM, IMAGING, SURVEY = "exam", "imaging", "survey"
# What of a motion exam is in degrees: our measure, its column.
ANGLES = {
    "flexion": "flexion_deg",
    "abduction": "abduction_deg",
    "external-rotation": "external_rotation_deg",
}
# (measure, side or '' for either, mode) -> LOINC; what is not listed has none that is known here.
MOTION_LOINC = {
    ("abduction", "left", "active"): loinc.LEFT_ABDUCTION_ACTIVE,
    ("external-rotation", "", "active"): loinc.EXTERNAL_ROTATION_ACTIVE,
}
SCORE_LOINC = {"pain_nrs": loinc.PAIN}
# What of a reading is a number: part of the id -> (measure, column, unit, of the other side).
LENGTHS: Mapping[str, tuple[str, str, str, bool]] = {
    "ccd-injured": ("ccd", "ccd_injured_mm", "mm", False),
    "ccd-other": ("ccd", "ccd_other_mm", "mm", True),
    "ccd-side-ratio": ("ccd-side-ratio", "ccd_side_ratio_pct", "%", False),
    "acd-injured": ("acd", "acd_injured_mm", "mm", False),
    "acd-other": ("acd", "acd_other_mm", "mm", True),
    "translation": ("translation", "translation_pct", "%", False),
    "cortices-bridged": ("cortices-bridged", "cortices_bridged", "{count}", False),
}
# What of a reading is a judgement: measure and code system -> column.
JUDGED = {"union": "union", "fracture-line": "fracture_line", "hardware": "hardware"}
NO_VALUE = {"unknown": "unknown", "not_applicable": "not_applicable", "not_done": "not_done"}
DECLINED = ("declined", "refused")


def angle(row: Any, measure: str) -> Json:
    """Return one movement of a motion exam in degrees."""
    codes = (
        MOTION_LOINC.get((measure, row.side, row.mode)),
        MOTION_LOINC.get((measure, "", row.mode)),
    )
    value = getattr(row, ANGLES[measure])
    return _motion(
        row,
        measure,
        [code for code in codes if code],
        _measured(row, ANGLES[measure], value, "deg"),
    )


def rotation(row: Any) -> Json:
    """Return internal rotation as the landmark that the thumb reaches: it is no angle."""
    value = _judged(row, "internal_rotation", "internal-rotation")
    return _motion(row, "internal-rotation", [], value)


def score(row: Any, *, by_name: bool) -> Json:
    """Return one completed instrument, or why it has no total."""
    known = INSTRUMENTS.get(row.instrument)
    name = known.name if known else row.instrument
    ours = terms.local("instrument", row.instrument, name, edition=row.instrument_version)
    codes = _loinc(SCORE_LOINC.get(row.instrument))
    value: Json
    if row.value is None:
        value = {"dataAbsentReason": absent("unknown", row.not_computable_reason)}
    else:
        value = {"valueQuantity": quantity(row.value, SCORE_UNIT)}
    extra = [{"url": terms.extension("score-mode"), "valueCoding": coded("score-mode", row.mode)}]
    if row.hardware_in_place != "unknown":
        in_place = row.hardware_in_place == "yes"
        extra.append({"url": terms.extension("hardware-in-place"), "valueBoolean": in_place})
    return compact(
        {
            **_observation(f"score-{row.pk}", row, row, row.injury, SURVEY),
            "extension": extra,
            "code": concept(*codes, ours, text=name),
            "effectiveDateTime": row.taken_on.isoformat(),
            **value,
            "bodySite": body_site(row.injury.side),
            "derivedFrom": [reference("QuestionnaireResponse", f"score-{row.pk}")]
            if row.items
            else [],
        }
    )


def length(row: Any, part: str, *, by_name: bool) -> Json:
    """Return one number of a reading, with how the film was calibrated."""
    measure, column, unit, of_other = LENGTHS[part]
    injured = row.film.injury.side
    side = OTHER[injured] if of_other else injured
    value = _measured(row, column, getattr(row, column), unit)
    return _reading(row, part, measure, value, side, by_name=by_name)


def judgement(row: Any, measure: str, *, by_name: bool) -> Json:
    """Return what a reader judged on a film: union, fracture line, hardware."""
    value = _judged(row, JUDGED[measure], measure)
    return _reading(row, measure, measure, value, row.film.injury.side, by_name=by_name)


def finding(row: Any, *, by_name: bool) -> Json:
    """Return one kind of finding of a reading: there, not there, or why that is not known."""
    reading = row.reading
    value: Json = {"valueCodeableConcept": concept(coded("finding-state", row.state))}
    if row.state == "not_assessable":
        value = {"dataAbsentReason": absent("unknown", "cannot be judged on this film")}
    if row.state == "not_applicable":
        value = {"dataAbsentReason": absent("not-applicable", "there is no such part")}
    inner = [
        {"code": {"text": "grade"}, "valueInteger": row.grade} if row.grade is not None else {},
        {
            "code": {"text": "place"},
            "valueCodeableConcept": concept(coded("finding-place", row.place)),
        }
        if row.place
        else {},
    ]
    return compact(
        {
            **_observation(
                f"finding-{row.pk}",
                row,
                reading,
                reading.film.injury,
                IMAGING,
            ),
            "code": concept(coded("finding", row.kind), text=row.get_kind_display()),
            "effectiveDateTime": reading.film.taken_on.isoformat(),
            **value,
            "performer": _reader(reading) if by_name else [],
            "bodySite": body_site(reading.film.injury.side),
            "derivedFrom": [reference("ImagingStudy", reading.film_id)],
            "component": [one for one in inner if one],
        }
    )


def not_obtained(row: Any, *, by_name: bool) -> Json:
    """Return what a review asked for and could not be had, each with its reason."""
    injury = row.procedure.injury
    return compact(
        {
            **_observation(f"not-obtained-{row.pk}", row, row, injury, SURVEY),
            "code": concept(coded("measure", "not-obtained")),
            "effectiveDateTime": row.told_on.isoformat(),
            "component": [
                {
                    "code": _asked_for(item),
                    "dataAbsentReason": absent(reason_code(why), why if by_name else ""),
                }
                for item, why in sorted(row.not_obtainable.items())
            ],
        }
    )


def reason_code(why: str) -> str:
    """Return the code of a reason that was written in words; what it does not say is unknown."""
    plain = why.strip().casefold()
    if any(plain.startswith(word) for word in DECLINED):
        return ABSENT["declined"]
    return ABSENT[missing.kind_of(plain) or missing.UNKNOWN]


def _asked_for(item: str) -> Json:
    kind, _, code = item.partition(":")
    if kind == "score" and code in INSTRUMENTS:
        ours = coded("instrument", code)
        return concept(*_loinc(SCORE_LOINC.get(code)), ours, text=INSTRUMENTS[code].name)
    codes = [coded("measure", "motion")] if kind == "motion" else []
    return concept(*codes, text=item.replace(":", " ").replace("_", " "))


def _motion(row: Any, measure: str, codes: Sequence[str], value: Json) -> Json:
    ours = coded("measure", measure)
    known = [one for code in codes for one in _loinc(code)]
    return compact(
        {
            **_observation(f"motion-{measure}-{row.pk}", row, row, row.injury, EXAM),
            "code": concept(*known, ours, text=ours["display"]),
            "effectiveDateTime": row.examined_on.isoformat(),
            **value,
            "bodySite": body_site(row.side),
            "method": concept(coded("motion-mode", row.mode)),
        }
    )


def _reading(row: Any, part: str, measure: str, value: Json, side: str, *, by_name: bool) -> Json:
    film = row.film
    scale = row.calibration_used.scale.how if row.landmarks and row.calibration_used else ""
    method = [coded("calibration", film.calibration)]
    method += [coded("pixel-size", scale)] if scale else []
    words = f"{film.get_view_display()} film; {row.origin}"
    return compact(
        {
            **_observation(f"reading-{part}-{row.pk}", row, row, film.injury, IMAGING),
            "code": concept(coded("measure", measure)),
            "effectiveDateTime": film.taken_on.isoformat(),
            **value,
            "performer": _reader(row) if by_name else [],
            "bodySite": body_site(side),
            "method": concept(*method, text=words),
            "derivedFrom": [reference("ImagingStudy", film.pk)],
        }
    )


def _observation(key: str, row: Any, reading: Any, injury: Any, category: str) -> Json:
    status = "final" if getattr(reading, "supersedes", None) is None else "corrected"
    if (
        row.voided_at is not None
        or reading.voided_at is not None
        or getattr(reading, "superseded_by_id", None) is not None
    ):
        status = "entered-in-error"
    return {
        **terms.head("Observation", key, row),
        "status": status,
        "category": [concept(coding(f"{TERMINOLOGY}/observation-category", category))],
        "subject": reference("Patient", injury.patient.key),
        "focus": [reference("Condition", injury.pk)],
        "issued": instant(row.recorded_at),
    }


def _reader(row: Any) -> list[Json]:
    return [named(terms.person_system(), row.reader.username)]


def _measured(row: Any, column: str, value: Any, unit: str) -> Json:
    if value is None:
        return {"dataAbsentReason": absent(ABSENT[row.missing.get(column, missing.UNKNOWN)])}
    return {"valueQuantity": quantity(value, unit)}


def _judged(row: Any, column: str, system: str) -> Json:
    value = getattr(row, column)
    kind = row.missing.get(column, "") if value == "" else NO_VALUE.get(value, "")
    if value == "" or kind:
        return {"dataAbsentReason": absent(ABSENT[kind or missing.UNKNOWN])}
    return {"valueCodeableConcept": concept(coded(system, value))}


def _loinc(code: str | None) -> list[Json]:
    return [coding(loinc.SYSTEM, code, loinc.display_of(code))] if code else []
