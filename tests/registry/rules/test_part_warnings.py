"""What is told of a part at once."""

from datetime import date
from typing import Any

import pytest

from registry.rules.part_warnings import PartSeen, Warned, warnings

OPERATED = date(2026, 6, 5)


def told(**seen: Any) -> dict[Warned, str]:
    part = PartSeen(**{"batch": "B7", **seen})
    return {one.code: one.words for one in warnings(part, OPERATED)}


def test_a_part_with_its_batch_is_told_of_nothing() -> None:
    assert told(expires_on=date(2027, 1, 31)) == {}


@pytest.mark.parametrize(
    ("expires_on", "words"),
    [
        (date(2026, 6, 5), None),
        (date(2026, 6, 4), "Expired on 2026-06-04, 1 day before the operation on 2026-06-05."),
        (date(2026, 5, 6), "Expired on 2026-05-06, 30 days before the operation on 2026-06-05."),
    ],
)
def test_what_expired_before_the_day_of_the_operation_is_told(
    expires_on: date, words: str | None
) -> None:
    # Usable until the end of its day: common practice, no source.
    assert told(expires_on=expires_on).get(Warned.EXPIRED) == words


def test_a_serial_number_is_told_of_without_naming_anybody() -> None:
    elsewhere = told(serial="S1", serial_used=True, serial_used_here=True)[Warned.SERIAL_USED]
    assert elsewhere == "Serial number S1 of this article is recorded on another patient."
    here = told(serial="S1", serial_used_here=True)[Warned.SERIAL_USED]
    assert here.endswith("recorded on this patient already.")
    twice = told(serial="S1", serial_twice=True)[Warned.SERIAL_USED]
    assert twice == "Serial number S1 of this article is given here more than once."


def test_a_batch_that_is_missing_is_told_unless_it_cannot_be_had() -> None:
    assert Warned.NO_BATCH in told(batch="")
    assert Warned.NO_BATCH not in told(batch="", batch_not_obtainable=True)
    assert Warned.NO_BATCH not in told(batch="", serial="S1")


def test_the_gravest_stands_first() -> None:
    part = PartSeen(
        serial="S1",
        serial_used=True,
        expires_on=date(2020, 1, 1),
        model_is_active=False,
        recalls=("Recalled by N-1.", "Recalled by N-2."),
    )
    assert [one.code for one in warnings(part, OPERATED)] == [
        Warned.RECALLED,
        Warned.RECALLED,
        Warned.SERIAL_USED,
        Warned.EXPIRED,
        Warned.SWITCHED_OFF,
    ]
