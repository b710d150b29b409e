"""What the invented hospital's system sent stands in each of its places."""

import pytest

from config.demo.load import Wanted, load
from followup.models import HospitalSlot
from registry.models import HospitalMessage
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_one_was_taken_one_is_known_one_is_not_ours_one_waits_and_one_cannot_be_used() -> None:
    load(Wanted(procedures=100), now=NOW, today=TODAY, whole=True)
    rows = HospitalMessage.objects.order_by("said_at", "pk").values_list("control_id", "fate")
    fates = dict(rows)
    assert fates.pop("DEMO-6") in {"taken", "waiting"}
    assert fates == {
        "DEMO-1": "taken",
        "DEMO-2": "nothing",
        "DEMO-3": "not_ours",
        "DEMO-4": "waiting",
        "DEMO-5": "refused",
    }
    assert HospitalSlot.objects.count() == 1
