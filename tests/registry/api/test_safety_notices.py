"""Safety notices and their carriers over the interface."""

import pytest

from registry.models import NoticeCarrier, Person
from registry.services import safety_notices
from tests import builders
from tests.api import Program, signed_in
from tests.builders import NOW, TODAY
from tests.implanted import PLATE, notice, part

pytestmark = pytest.mark.django_db
NOTICES, CARRIERS = "/api/v1/safety-notices/", "/api/v1/notice-carriers/"


@pytest.fixture
def api(coordinator: Person) -> Program:
    return signed_in(coordinator)


def test_a_notice_tells_what_it_is_about(api: Program) -> None:
    saved = notice({"device_identifier": PLATE, "batch_first": "L1", "batch_last": "L9"})
    answer = api.get(f"{NOTICES}{saved.pk}/")
    assert (answer.status_code, answer["ETag"]) == (200, '"1"')
    body = answer.json()
    assert (body["reference"], body["kind"], body["owner"]) == ("FSN-1", "recall", "keeper")
    (line,) = body["scopes"]
    assert (line["batch_first"], line["batch_last"]) == ("L1", "L9")
    assert api.get(f"{NOTICES}?kind=information").json()["count"] == 0
    assert api.get(f"{NOTICES}?kind=recall").json()["count"] == 1


def test_carriers_are_those_of_one_s_sites_with_every_step(api: Program) -> None:
    row = part(batch="LOT42A")
    part(batch="LOT42A", at=builders.site("south"))
    near = part(batch="L0T42A")
    saved = notice()
    carrier = NoticeCarrier.objects.get(procedure=row.construct.procedure_id)
    safety_notices.take_step(
        carrier=carrier,
        step="reached",
        on=TODAY,
        note="told",
        expected_version=1,
        by=saved.owner,
        now=NOW,
    )
    assert api.get(CARRIERS).json()["count"] == 2
    (body,) = api.get(f"{CARRIERS}?sureness=certain").json()["results"]
    assert body["patient"] == row.construct.procedure.injury.patient.key
    assert [(one["kind"], one["note"]) for one in body["steps"][1:]] == [("reached", "told")]
    key = near.construct.procedure.injury.patient.key
    (other,) = api.get(f"{CARRIERS}?reference=FSN-1&patient={key}").json()["results"]
    assert other["state"] == "undecided"


def test_nothing_is_written_over_the_interface(api: Program) -> None:
    saved = notice()
    assert api.post(NOTICES, {"reference": "x"}).status_code == 405
    assert api.patch(f"{NOTICES}{saved.pk}/", {"title": "x"}).status_code == 405
