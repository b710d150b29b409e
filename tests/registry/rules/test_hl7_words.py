"""What a message says, in words."""

from zoneinfo import ZoneInfo

from registry.rules import hl7_said, hl7_words
from registry.rules.hl7_text import Segments
from tests import hospital


def words(content: bytes) -> dict[str, str]:
    said = hl7_said.read(Segments(content.decode()), ZoneInfo("Europe/London"))
    return {line.label: line.value for line in hl7_words.in_words(said)}


def test_a_person_is_told_field_by_field() -> None:
    told = words(hospital.adt("A08", "7", phone='""', died="20261120", dead="Y"))
    assert told["What happened"] == "Details changed"
    assert told["Number"] == "7 (HOSP)"
    assert told["Telephone"] == "to be emptied"
    assert (told["Born"], told["Died"]) == ("1980-05-17", "on 20 Nov 2026")


def test_a_merge_says_which_number_survives() -> None:
    told = words(hospital.merge("2", "1"))
    assert told["Number that survives"] == "2 (HOSP)"
    assert told["Number that is absorbed"] == "1 (HOSP)"


def test_a_slot_is_told_with_day_time_and_place() -> None:
    told = words(hospital.siu("S12", "7", "F1", "20261201093000"))
    assert told["Slot"] == "F1^PAS on 01 Dec 2026 at 09:30 is booked"
    assert told["Place"] == "SHOULDER"


def test_an_event_that_is_not_known_is_told_by_its_name() -> None:
    assert hl7_words.event_words("Z99") == "Z99"
    assert hl7_words.event_words("") == "Not readable"
