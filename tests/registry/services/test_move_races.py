"""Two who move one injury at the same moment: one move is made."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from registry.errors import StaleVersion
from registry.models import Injury, Patient, RecordMove
from registry.services import moves
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.needs_postgres, pytest.mark.django_db(transaction=True)]


def test_of_two_moves_at_once_one_is_made() -> None:
    builders.load_defaults()
    injury = builders.procedure(builders.injury()).injury
    targets = [builders.patient(), builders.patient()]
    begin = Barrier(2)

    def go(to: Patient) -> bool:
        row = Injury.objects.get(pk=injury.pk)
        begin.wait(timeout=300)
        try:
            moves.move_to_patient(
                injury=row,
                to=to,
                reason="the other card",
                expected_version=row.version,
                to_version=to.version,
                by=to.recorded_by,
                now=NOW,
                today=TODAY,
            )
        except StaleVersion:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(go, targets)) == [False, True]
    assert RecordMove.objects.count() == 1
    assert Injury.objects.get(pk=injury.pk).patient == RecordMove.objects.get().to_patient
