"""Parts by their labels: a list that grows, and is saved as one."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import ImplantModel, Part, Person, Procedure
from tests import builders
from tests.implanted import PLATE, bare_notice

pytestmark = pytest.mark.django_db
LABEL = f"(01){PLATE}(17)270131(10)LOT42A"
WITHOUT_SEPARATOR = f"01{PLATE}1727013110LOT42A21SN0042"


@pytest.fixture
def operation() -> Procedure:
    return builders.procedure()


@pytest.fixture
def page(client: Client, surgeon: Person) -> Client:
    client.force_login(surgeon)
    return client


def where(operation: Procedure, name: str = "part-scan") -> str:
    return reverse(name, args=[operation.pk])


def line(number: int, text: str, **more: Any) -> dict[str, Any]:
    given = {"text": text, "quantity": "1", **more}
    return {f"line-{number}-{name}": value for name, value in given.items()}


def words(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_the_page_waits_for_a_label(page: Client, operation: Procedure) -> None:
    shown = words(page.get(where(operation)))
    assert "Which parts were put in?" in shown
    assert "Nothing is in the list yet" in shown


def test_what_a_label_says_is_shown_before_anything_is_saved(
    page: Client, operation: Procedure
) -> None:
    answer = page.post(where(operation, "part-read"), {"scan": LABEL})
    shown = words(answer)
    for said in (PLATE, "LOT42A", "31 Jan 2027", "draft"):
        assert said in shown
    assert not Part.objects.exists()
    assert not ImplantModel.objects.exists()


def test_without_a_script_the_same_form_grows_the_list(page: Client, operation: Procedure) -> None:
    sent = {"act": "add", "scan": "(01)00844588003288(10)S1", **line(0, LABEL, quantity="3")}
    shown = words(page.post(where(operation), sent))
    assert 'name="line-1-text" value="(01)00844588003288(10)S1"' in shown
    assert 'name="line-0-quantity" value="3"' in shown
    assert not Part.objects.exists()


def test_a_list_is_saved_as_one(page: Client, operation: Procedure) -> None:
    sent = {
        "act": "save",
        **line(0, LABEL, kind="plate", description="lateral plate, 7 holes"),
        **line(1, "(01)00844588003288\n(10)S1(17)270131", quantity="4"),
        **line(2, "(01)09506000134369", drop="on"),
    }
    answer = page.post(where(operation), sent)
    assert answer.status_code == 302
    plate, screw = Part.objects.order_by("pk")
    assert (plate.batch, plate.implant_model.description) == ("LOT42A", "lateral plate, 7 holes")
    assert (screw.batch, screw.quantity) == ("S1", 4)
    assert screw.raw_identifier == "(01)00844588003288\n(10)S1(17)270131"


def test_one_line_that_cannot_be_saved_stops_all_and_says_why(
    page: Client, operation: Procedure
) -> None:
    sent = {"act": "save", **line(0, LABEL), **line(1, WITHOUT_SEPARATOR), **line(2, "(10)B7")}
    shown = words(page.post(where(operation), sent))
    assert "Nothing was saved yet" in shown
    assert "run together" in shown
    assert "batch LOT42A, serial number SN0042" in shown
    assert "names no article" in shown
    assert not Part.objects.exists()


def test_a_chosen_reading_is_what_is_saved(page: Client, operation: Procedure) -> None:
    sent = {"act": "save", **line(0, WITHOUT_SEPARATOR, reading="1")}
    assert page.post(where(operation), sent).status_code == 302
    assert Part.objects.get().serial == "SN0042"
    sent = {"act": "save", **line(0, WITHOUT_SEPARATOR, reading="0")}
    assert page.post(where(operation), sent).status_code == 302
    assert Part.objects.latest("pk").batch == "LOT42A21SN0042"


def test_a_line_break_of_a_browser_and_a_separator_come_through(
    page: Client, operation: Procedure
) -> None:
    text = f"01{PLATE}\r\n10LOT42A\x1d21SN0042"
    assert page.post(where(operation), {"act": "save", **line(0, text)}).status_code == 302
    part = Part.objects.get()
    assert part.raw_identifier == f"01{PLATE}\n10LOT42A\x1d21SN0042"
    assert (part.batch, part.serial) == ("LOT42A", "SN0042")


def test_warnings_are_shown_at_once_and_kept_with_their_reason(
    page: Client, operation: Procedure
) -> None:
    bare_notice()
    expired = f"(01){PLATE}(17)260131(10)LOT42A"
    shown = words(page.post(where(operation, "part-read"), {"scan": expired}))
    assert "Recalled: safety notice FSN-1" in shown
    assert "Expired on 2026-01-31" in shown
    sent = {"act": "save", **line(0, expired, kept_because="opened before it was seen")}
    assert page.post(where(operation), sent).status_code == 302
    part = Part.objects.get()
    assert [one["code"] for one in part.warnings] == ["recalled", "expired"]
    assert part.kept_because == "opened before it was seen"


def test_a_serial_number_elsewhere_leads_to_nobody(page: Client, operation: Procedure) -> None:
    label = f"(01){PLATE}(21)SN0042"
    there = builders.procedure(builders.injury(builders.patient(builders.site("south"))))
    here = builders.procedure()
    otto = builders.person("otto", south="surgeon")
    page.force_login(otto)
    page.post(where(there), {"act": "save", **line(0, label)})
    page.force_login(Person.objects.get(username="selma"))
    shown = words(page.post(where(operation, "part-read"), {"scan": label}))
    assert "is recorded on another patient." in shown
    assert "Open that patient" not in shown
    assert there.injury.patient.key not in shown
    page.post(where(here), {"act": "save", **line(0, label)})
    shown = words(page.post(where(operation, "part-read"), {"scan": label}))
    assert reverse("patient", args=[here.injury.patient.key]) in shown


def test_what_cannot_be_read_is_told_and_nothing_is_lost(
    page: Client, operation: Procedure
) -> None:
    sent = {"scan": ["hello", "(01)09506000134353"], **line(0, LABEL)}
    shown = words(page.post(where(operation, "part-read"), sent))
    assert "no label of an implant" in shown
    assert "check digit is 2" in shown
    assert f'value="{LABEL}"' in shown


def test_an_empty_list_saves_nothing(page: Client, operation: Procedure) -> None:
    assert "scan a label first" in words(page.post(where(operation), {"act": "save"}))


def test_only_the_pages_with_a_camera_may_run_the_decoder(
    page: Client, operation: Procedure
) -> None:
    policy = page.get(where(operation))["Content-Security-Policy"]
    assert "script-src 'self' 'wasm-unsafe-eval'" in policy
    other = page.get(reverse("part-add", args=[operation.pk]))["Content-Security-Policy"]
    assert "wasm-unsafe-eval" not in other


def test_forty_lines_cost_as_many_queries_as_one(
    page: Client, operation: Procedure, counted: Any
) -> None:
    costs = []
    for number in (1, 40):
        sent = {}
        for n in range(number):
            sent |= line(n, f"(01){PLATE}(21)S{n}")
        with counted() as queries:
            page.post(where(operation, "part-read"), sent)
        costs.append(len(queries))
    assert costs[0] == costs[1]
