"""By what a part can be traced, in words."""

import pytest

from registry.rules.part_words import traced_by

DEVICE = {"device_identifier": "09506000134352"}


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({**DEVICE, "batch": "B7"}, "device identifier and batch or serial"),
        (DEVICE, "device identifier alone"),
        (
            {**DEVICE, "batch_not_obtainable": True},
            "device identifier alone, batch not obtainable (tray)",
        ),
        ({"catalogue_number": "PL-7"}, "catalogue number alone"),
        ({"batch_not_obtainable": True}, "batch not obtainable (tray)"),
        ({}, "not obtainable or not recorded"),
    ],
)
def test_a_part_says_by_what_it_can_be_traced(given: dict[str, object], words: str) -> None:
    blank = {"device_identifier": "", "catalogue_number": "", "batch": "", "serial": ""}
    whole = {**blank, "batch_not_obtainable": False, **given}
    assert traced_by(**whole) == words  # type: ignore[arg-type]  # drawn from one table
