from datetime import date

import pytest

from registry.models import AuditEntry
from registry.models.identities import HeaderIdentity
from registry.services import erasure, header_identities
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def kept(**said: str) -> int:
    values = {"number": "", "family_name": "Marlowe", "given_name": "Agneta", **said}
    return header_identities.keep(
        site=builders.site(), birth_date=date(1971, 3, 4), file_name="a.dcm", now=NOW, **values
    )


def test_what_a_header_says_is_forgotten_and_never_stood_in_the_trail() -> None:
    row = kept()
    header_identities.forget(row_id=row)
    header_identities.forget(row_id=None)
    assert not HeaderIdentity.objects.exists()
    assert not AuditEntry.objects.filter(table="registry_headeridentity").exists()


def test_who_is_erased_is_forgotten_by_headers_too() -> None:
    patient = builders.patient(family_name="Marlowe", given_name="Agneta")
    kept()
    kept(family_name="", given_name="", number=patient.identifiers.get().value)
    other = kept(family_name="Other")
    erasure.erase_patient(
        patient=patient, reason="asked", by=patient.recorded_by, now=NOW, today=TODAY
    )
    assert [row.pk for row in HeaderIdentity.objects.all()] == [other]
