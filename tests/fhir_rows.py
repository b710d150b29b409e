"""Rows as somebody sees them for FHIR."""

from typing import Any

from registry.models import Person
from registry.selectors import fhir_rows
from tests import builders


def surgeon_sees() -> fhir_rows.Seer:
    """Return a surgeon at both sites, who sees names."""
    return fhir_rows.reader(builders.person("sees_all", north="surgeon", south="surgeon"))


def lead() -> Person:
    """Return somebody who takes data away and sees nobody's name."""
    return builders.person("takes", north="quality_lead", south="quality_lead")


def seen(rows: Any, row: Any, *, voided: bool = False) -> Any:
    """Return one row as the surgeon sees it, with what is needed to write it."""
    return rows(surgeon_sees(), voided=voided).get(pk=row.pk)
