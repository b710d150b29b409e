"""Typed counts and what the parts come to."""

from registry.rules.part_counts import Piece, counted, disagreements


def words(typed: dict[str, int | None], *pieces: Piece) -> list[str]:
    return [one.words for one in disagreements(typed, pieces)]


def test_pieces_are_counted_by_what_they_are() -> None:
    pieces = [
        Piece("plate", 1, plate_holes=7),
        Piece("anchor", 1),
        Piece("anchor", 1),
        Piece("button", 2),
        Piece("retainer", 2),
        Piece("suture", 3),
        Piece("graft", 1),
    ]
    assert counted(pieces) == {
        "plate_holes": 7,
        "anchor_count": 2,
        "button_count": 2,
        "retainer_count": 2,
    }


def test_what_no_part_says_is_not_none() -> None:
    assert counted([]) == {}
    assert counted([Piece("plate", 1)]) == {}


def test_screws_are_placed_by_their_diameter_where_all_say_it() -> None:
    small, large = (
        Piece("screw", 6, screw_diameter_mm=2.3),
        Piece("screw", 3, screw_diameter_mm=3.5),
    )
    assert counted([small, large]) == {
        "screw_count": 9,
        "lateral_screw_count": 6,
        "shaft_screw_count": 3,
    }
    assert counted([small, Piece("screw", 3)]) == {"screw_count": 9}


def test_a_disagreement_is_told_in_words() -> None:
    assert words({"anchor_count": 2}, Piece("anchor", 1)) == ["2 anchors typed, 1 among the parts"]
    assert words({"anchor_count": 1}, Piece("anchor", 2)) == ["1 anchor typed, 2 among the parts"]


def test_agreement_and_what_was_not_typed_are_silent() -> None:
    assert words({"anchor_count": 1}, Piece("anchor", 1)) == []
    assert words({"anchor_count": None}, Piece("anchor", 1)) == []
    assert words({"anchor_count": 2}, Piece("button", 1)) == []


def test_screws_of_unknown_size_are_held_to_the_sum() -> None:
    typed: dict[str, int | None] = {"lateral_screw_count": 6, "shaft_screw_count": 3}
    assert words(typed, Piece("screw", 8)) == ["9 screws typed, 8 among the parts"]
    assert words(typed, Piece("screw", 9)) == []
    assert words({"lateral_screw_count": 6}, Piece("screw", 8)) == []
    sized = Piece("screw", 5, screw_diameter_mm=2.3)
    assert words(typed, sized, Piece("screw", 4, screw_diameter_mm=3.5)) == [
        "6 lateral screws typed, 5 among the parts",
        "3 shaft screws typed, 4 among the parts",
    ]
