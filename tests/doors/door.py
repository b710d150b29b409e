"""What an address is about: the actions that permit looking at it and sending its form."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Row = Mapping[str, str]
THIS: Row = {}


@dataclass(frozen=True)
class Door:
    """What an address is about.

    `opens` is the action that permits looking, `sends` the one that permits sending its form; an
    address without the one or the other answers 405 to it. `answer` is what those who may get.
    `of` says, for each object that stands for the address, what its arguments are called in
    `world.one_of_each` where the names differ; a value that begins with '=' is written as it is.
    `query` likewise.
    """

    opens: str = ""
    sends: str = ""
    answer: int = 200
    of: tuple[Row, ...] = (THIS,)
    query: Row = field(default_factory=dict)


def page(action: str, **more: Any) -> Door:
    return Door(opens=action, **more)


def form(action: str, **more: Any) -> Door:
    return Door(opens=more.pop("opens", action), sends=action, **more)


def act(action: str, answer: int, **more: Any) -> Door:
    return Door(sends=action, answer=answer, **more)
