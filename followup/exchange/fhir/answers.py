"""Answers as FHIR QuestionnaireResponses: by question and item number, without anybody's wording."""

from collections.abc import Mapping
from typing import Any

from followup.exchange.fhir.code_systems import coded
from followup.rules.questions import HOUSE, WHO
from registry.exchange.fhir import terms
from registry.rules.fhir.elements import Json, compact, reference
from registry.rules.fhir.moments import instant

HOUSE_FORM = "asked-at-home"


def of_score(row: Any) -> Json:
    """Return the numbered answers to one instrument."""
    status = "completed" if row.voided_at is None else "entered-in-error"
    numbers = sorted(row.items.items(), key=lambda pair: int(pair[0]))
    return compact(
        {
            **terms.head("QuestionnaireResponse", f"score-{row.pk}", row),
            "questionnaire": form(row.instrument, row.instrument_version),
            "status": status,
            "subject": reference("Patient", row.injury.patient.key),
            "authored": row.taken_on.isoformat(),
            "item": [
                {"linkId": str(number), "answer": [{"valueDecimal": float(value)}]}
                for number, value in numbers
                if value is not None
            ],
        }
    )


def of_invitation(row: Any) -> Json:
    """Return what a patient answered at home; who answered for whom is among the answers."""
    status = "in-progress"
    if row.completed_at is not None:
        status = "completed"
    elif row.revoked_at is not None or row.landed_at is not None:
        status = "stopped"
    patient = reference("Patient", row.review.procedure.injury.patient.key)
    proxied = any(one.question == WHO.code and one.value == "other" for one in row.given)
    return compact(
        {
            **terms.head("QuestionnaireResponse", f"invitation-{row.pk}", row),
            "questionnaire": form(HOUSE_FORM, row.review.step.code),
            "status": status,
            "subject": patient,
            "authored": instant(row.authored),
            "source": {} if proxied else patient,
            "item": [
                {"linkId": one.question.replace(":", "."), "answer": [_answer(one)]}
                for one in row.given
            ],
        }
    )


def form(name: str, version: str) -> str:
    """Return the canonical address of what was asked, with its version."""
    return f"{terms.canonical('Questionnaire', name)}|{version}"


def items_of(resource: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a response holds by item: the reverse, for whoever compares both."""
    return {
        one["linkId"]: next(iter(one["answer"][0].values())) for one in resource.get("item", ())
    }


def _answer(one: Any) -> Json:
    question = HOUSE.get(one.question)
    if question is not None and question.choices and not one.value.isdigit():
        return {"valueCoding": coded("answer", f"{one.question}.{one.value}")}
    if one.value.isdigit():
        return {"valueInteger": int(one.value)}
    return {"valueString": one.value}
