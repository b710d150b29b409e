"""The demo's labels are such as a scanner would send, of nobody's articles."""

from datetime import date

import pytest

from config.demo.labelled import article_of, label_of
from registry.rules import udi
from tests.builders import TODAY


@pytest.mark.parametrize(
    ("kind", "description", "number"),
    [
        ("plate", "Lateral clavicle locking plate, 7 holes", "PL-141"),
        ("anchor", "Suture anchor for the coracoid", "AN-130"),
        ("suture", "Braided suture", "SU-114"),
        ("graft", "Tendon graft from a bank", "GR-124"),
    ],
)
@pytest.mark.parametrize("expires_on", [None, date(2027, 1, 31)])
def test_a_label_says_what_the_part_has(
    kind: str, description: str, number: str, expires_on: date | None
) -> None:
    identifier = article_of(kind, description, number)["device_identifier"]
    label = udi.read(label_of(kind, identifier, "PL263A", "GR1", expires_on), today=TODAY)
    assert label.is_certain
    assert (label.device_identifier, label.batch, label.serial, label.expires_on) == (
        identifier,
        "PL263A",
        "GR1",
        expires_on,
    )
    assert identifier.startswith(("0950600", "A999"))


def test_what_comes_out_of_a_tray_has_no_label() -> None:
    screw = article_of("screw", "Locking screw 2.3 mm", "SL-120")
    assert (screw["device_identifier"], screw["screw_diameter_mm"]) == ("", "2.3")
    assert label_of("screw", "", "B7", "", None) == ""
    assert label_of("plate", "09506000134352", "", "", None) == ""
    assert article_of("plate", "Hook plate, 6 holes", "PL-1")["plate_holes"] == 6
