import pytest

from registry.models import ForeignNumber
from registry.services import erasure, foreign_numbers
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def test_an_erasure_takes_away_by_what_others_know_the_rows() -> None:
    gone, stays = builders.procedure(), builders.procedure()
    for row in (gone, stays):
        foreign_numbers.keep(
            site=row.site, column="procedure", row=row, numbers=[("urn:a", str(row.pk))], now=NOW
        )
    foreign_numbers.keep(
        site=gone.site, column="injury", row=gone.injury, numbers=[("urn:a", "7")] * 2, now=NOW
    )
    assert ForeignNumber.objects.count() == 3
    erasure.erase_patient(
        patient=gone.injury.patient, reason="asked", by=gone.recorded_by, now=NOW, today=TODAY
    )
    assert [one.procedure for one in ForeignNumber.objects.all()] == [stays]
    assert foreign_numbers.forget(patients=[stays.injury.patient]) == 1
