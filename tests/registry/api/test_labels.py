"""Labels over the interface: read without saving, and parts added by them."""

from typing import Any

import pytest

from registry.models import Construct, ImplantModel, Part, Person
from registry.services import implants
from tests import builders
from tests.api import Program, signed_in
from tests.implanted import PLATE, bare_notice

pytestmark = pytest.mark.django_db
URL = "/api/v1/labels/"
GS = "\x1d"
SCAN = f"]d201{PLATE}1727013110LOT42A{GS}21SN0042"


@pytest.fixture
def api(surgeon: Person) -> Program:
    return signed_in(surgeon)


@pytest.fixture
def construct() -> Construct:
    built: Construct = builders.procedure().construct
    return built


def parts_at(construct: Construct) -> str:
    return f"/api/v1/constructs/{construct.pk}/labelled-parts/"


def test_a_label_is_read_and_nothing_is_saved(api: Program) -> None:
    answer = api.post(URL, {"text": SCAN})
    assert answer.status_code == 200
    body = answer.json()
    assert (body["issuer"], body["device_identifier"], body["raw"]) == ("gs1", PLATE, SCAN)
    assert (body["batch"], body["serial"], body["expires_on"]) == ("LOT42A", "SN0042", "2027-01-31")
    assert (body["article"], body["warnings"], body["doubts"]) == (None, [], [])
    assert not ImplantModel.objects.exists()


def test_what_is_doubtful_comes_with_its_readings(api: Program) -> None:
    body = api.post(URL, {"text": SCAN.replace(GS, "")}).json()
    assert "run together" in body["doubts"][0]
    assert [(one["batch"], one["serial"]) for one in body["readings"]] == [("LOT42A", "SN0042")]


def test_a_damaged_label_is_refused_in_words(api: Program) -> None:
    answer = api.post(URL, {"text": "(01)09506000134353"})
    assert answer.status_code == 400
    assert "check digit is 2" in answer.json()["faults"]["text"][0]
    assert api.post(URL, {"text": ""}).status_code == 400
    assert api.post(URL, {"text": "x" * 901}).status_code == 400
    assert "no such field" in str(api.post(URL, {"label": SCAN}).json()["faults"])


def test_warnings_are_told_for_an_operation(api: Program, construct: Construct) -> None:
    bare_notice()
    sent = {"text": f"(01){PLATE}(17)260131(10)LOT42A", "procedure": construct.procedure_id}
    codes = [one["code"] for one in api.post(URL, sent).json()["warnings"]]
    assert codes == ["recalled", "expired"]
    other = builders.procedure(builders.injury(builders.patient(builders.site("south"))))
    assert api.post(URL, {**sent, "procedure": other.pk}).status_code == 400


def test_parts_are_added_by_their_labels(api: Program, construct: Construct) -> None:
    sent = {
        "labels": [
            {"text": SCAN, "kind": "plate", "description": "lateral plate, 7 holes"},
            {"text": "+A123BJC5D6E71G\n+$$52001510X3GD", "quantity": 4},
        ]
    }
    answer = api.post(parts_at(construct), sent)
    assert answer.status_code == 201
    plate, screw = answer.json()["parts"]
    assert (plate["serial"], plate["traceable_by"]) == (
        "SN0042",
        "device identifier and batch or serial",
    )
    assert (screw["quantity"], screw["batch"], screw["device_identifier"]) == (
        4,
        "10X3",
        "A123BJC5D6E71",
    )
    assert [one["code"] for one in screw["warnings"]] == ["expired"]


def test_one_label_that_cannot_be_taken_keeps_all_out(api: Program, construct: Construct) -> None:
    good, unclear = {"text": SCAN}, {"text": SCAN.replace(GS, "")}
    answer = api.post(parts_at(construct), {"labels": [good, unclear]})
    assert answer.status_code == 400
    assert "run together" in answer.json()["faults"]["part 2"][0]
    assert not Part.objects.exists()
    chosen = {"labels": [good, {**unclear, "reading": 1, "text": f"01{PLATE}10LOT7"}]}
    assert "no reading number 1" in str(api.post(parts_at(construct), chosen).json()["faults"])
    chosen = {"labels": [{**unclear, "reading": 1}]}
    assert api.post(parts_at(construct), chosen).status_code == 201
    assert Part.objects.get().serial == "SN0042"


@pytest.mark.parametrize("labels", [[], [{}], [{"text": SCAN, "quantity": 0}], "x"])
def test_what_has_another_shape_is_refused(api: Program, construct: Construct, labels: Any) -> None:
    assert api.post(parts_at(construct), {"labels": labels}).status_code == 400


def test_typed_counts_that_the_parts_do_not_bear_out_are_told(api: Program) -> None:
    built = builders.procedure(construct={"anchor_count": 2}).construct
    given = implants.PartGiven("anchor", "suture anchor", batch="B-1")
    implants.add_part(construct=built, given=given, by=built.recorded_by, now=builders.NOW)
    body = api.get(f"/api/v1/constructs/{built.pk}/").json()
    assert body["disagreements"] == ["2 anchors typed, 1 among the parts"]
