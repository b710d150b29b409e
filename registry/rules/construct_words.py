"""What was implanted, in one line as a surgeon would say it; what is not known is left out."""

from typing import Any, Protocol


class Built(Protocol):
    """The facts of a construct; None or an empty text where nobody knows."""

    plate_holes: int | None
    lateral_screw_count: int | None
    lateral_screw_diameter_mm: Any
    shaft_screw_count: int | None
    shaft_screw_diameter_mm: Any
    anchor_count: int | None
    button_count: int | None
    retainer_count: int | None
    half_hitch_count: int | None
    suture_kind: str
    graft: str


GRAFTS = {"autograft", "allograft", "synthetic"}


def in_words(built: Built) -> str:
    """Return the facts in words: '7 holes, 8 lateral screws of 2.3 mm, 2 anchors'; '' for none."""
    parts = (
        _counted(built.plate_holes, "hole"),
        _counted(built.lateral_screw_count, "lateral screw", built.lateral_screw_diameter_mm),
        _counted(built.shaft_screw_count, "shaft screw", built.shaft_screw_diameter_mm),
        _counted(built.anchor_count, "anchor"),
        _counted(built.button_count, "button"),
        _counted(built.retainer_count, "retainer"),
        f"{built.suture_kind} suture" if built.suture_kind else "",
        _counted(built.half_hitch_count, "half hitch", plural="half hitches"),
        built.graft if built.graft in GRAFTS else "",
    )
    return ", ".join(part for part in parts if part)


def _counted(number: int | None, noun: str, size_mm: object = None, plural: str = "") -> str:
    if not number:
        return ""
    of_size = "" if size_mm is None else f" of {size_mm} mm"
    return f"{number} {noun if number == 1 else plural or noun + 's'}{of_size}"
