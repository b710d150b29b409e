import pytest

from followup.tasks.safety_notices import match
from registry.models import NoticeCarrier, Part
from tests.implanted import notice, part

pytestmark = pytest.mark.django_db


def test_what_was_written_past_the_services_is_found_at_night_and_once() -> None:
    notice()
    row = part(batch="LOT9")
    Part.objects.filter(pk=row.pk).update(batch="LOT42A")
    assert match()["said"] == "1 carriers found, 0 tasks opened or closed."
    assert match()["said"] == "0 carriers found, 0 tasks opened or closed."
    assert NoticeCarrier.objects.count() == 1
