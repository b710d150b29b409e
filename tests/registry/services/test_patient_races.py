"""What is added to a patient at the moment of a merge or an erasure goes along, or is refused."""

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from threading import Event

import pytest
from django.db import connection, transaction

from registry.models import AlternativeContact, Consent, Identifier, Injury, Patient
from registry.services import erasure
from tests import builders
from tests.builders import NOW, TODAY
from tests.racing import somebody_waits
from tests.registry.services.test_patient_locks import (
    injure,
    merge,
    name_another,
    number,
    refuse_contact,
)

pytestmark = [pytest.mark.needs_postgres, pytest.mark.django_db(transaction=True)]


def beside(add: Callable[[], None], take: Callable[[], None]) -> None:
    """Add something, and commit it once whoever takes has come to wait for it, or is through."""
    added, taken = Event(), Event()

    def adding() -> None:
        try:
            with transaction.atomic():
                add()
                added.set()
                while not taken.wait(timeout=0.05) and not somebody_waits():
                    pass
        finally:
            added.set()
            connection.close()

    def taking() -> None:
        try:
            assert added.wait(timeout=300)
            take()
        finally:
            taken.set()
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        both: list[Future[None]] = [pool.submit(adding), pool.submit(taking)]
    for one in both:
        one.result()


@pytest.mark.parametrize(("add", "model"), [(injure, Injury), (refuse_contact, Consent)])
def test_what_is_added_while_two_entries_are_merged_goes_to_the_one_that_is_kept(
    add: Callable[[Patient], None], model: type[Injury | Consent]
) -> None:
    kept, merged = builders.patient(), builders.patient()
    beside(lambda: add(merged), lambda: merge(kept, merged))
    merged.refresh_from_db()
    assert merged.merged_into == kept
    assert [row.patient for row in model.objects.all()] == [kept]


@pytest.mark.parametrize("add", [number, name_another])
def test_what_is_added_while_a_patient_is_erased_is_erased_with_them(
    add: Callable[[Patient], None],
) -> None:
    patient = builders.patient()

    def erase() -> None:
        erasure.erase_patient(
            patient=patient, reason="letter", by=patient.recorded_by, now=NOW, today=TODAY
        )

    beside(lambda: add(Patient.objects.get(pk=patient.pk)), erase)
    assert not Identifier.objects.exists()
    assert not AlternativeContact.objects.exists()
