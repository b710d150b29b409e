from dataclasses import dataclass, replace
from decimal import Decimal

from followup.rules.findings import Found
from followup.rules.reading_words import told, told_outside


@dataclass
class Reading:
    """A reading as the words take it."""

    ccd_injured_mm: Decimal | None = None
    ccd_other_mm: Decimal | None = None
    ccd_side_ratio_pct: Decimal | None = None
    translation_pct: int | None = None
    cortices_bridged: int | None = None
    fracture_line: str = "not_done"
    union: str = "partial"
    origin: str = "numbers typed"

    def get_union_display(self) -> str:
        return {"partial": "Partly united", "united": "United"}[self.union]

    def get_hardware_display(self) -> str:
        return "In place"


LENGTHS = Reading(Decimal("9.4"), Decimal("8.8"), translation_pct=10)
LOOSE = Found("screw_loosened", "present")


def test_a_reading_is_told_part_by_part() -> None:
    assert told(LENGTHS, [LOOSE]) == [
        "CC distance 9.4 mm",
        "other side 8.8 mm",
        "translation 10% of the shaft",
        "union: partly united",
        "hardware: in place",
        "screw loosened",
        "numbers typed",
    ]


def test_without_lengths_nothing_says_where_they_are_from() -> None:
    assert told(Reading()) == ["union: partly united", "hardware: in place"]
    ratio = told(Reading(ccd_side_ratio_pct=Decimal("12.5")))
    assert ratio[0] == "CC distance 12.5% against the other side"
    assert ratio[-1] == "numbers typed"


def test_bridging_is_told_and_held_against_the_sites_rule() -> None:
    bridged = Reading(cortices_bridged=2, fracture_line="visible", union="united")
    assert told(bridged, least_cortices=3) == [
        "union: united (by the site's rule partly united: 2 of 4 cortices bridged, 3 asked for)",
        "2 of 4 cortices bridged",
        "fracture line visible",
        "hardware: in place",
    ]
    assert told(bridged)[0] == "union: united"
    assert told(replace(bridged, union="partial"), least_cortices=3)[0] == "union: partly united"


def test_letters_say_the_same_in_whole_words_and_hold_nothing_against_a_rule() -> None:
    assert told_outside(LENGTHS, [LOOSE]) == [
        "coracoclavicular distance 9.4 mm",
        "other side 8.8 mm",
        "translation 10% of the shaft",
        "bone: partly united",
        "hardware: in place",
        "screw loosened",
    ]
