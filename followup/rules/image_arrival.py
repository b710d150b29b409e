"""What is learnt of an image file when it arrives, as plain values that travel between processes."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from followup.rules.image_facts import ImageFacts
from followup.rules.image_levels import Levels


@dataclass(frozen=True)
class SaidOf:
    """Whom a header says an image is of. It is offered to a person for the match, and then forgotten."""

    number: str = ""
    family_name: str = ""
    given_name: str = ""
    birth_date: date | None = None

    @property
    def is_empty(self) -> bool:
        """Whether the header said nothing of anybody."""
        return self == SaidOf()


@dataclass(frozen=True)
class Arrival:
    """One image as it arrived: kind, facts, levels, whether writing is burnt in, view and posture."""

    kind: str
    facts: ImageFacts
    levels: Levels
    burnt_in: str = "unknown"
    view: str = ""
    posture: str = ""
    said_of: SaidOf = SaidOf()

    def as_json(self) -> dict[str, Any]:
        """Return it as values that JSON can carry."""
        said_of = asdict(self.said_of)
        born = self.said_of.birth_date
        said_of["birth_date"] = born.isoformat() if born else ""
        return {
            **asdict(self),
            "facts": self.facts.as_json(),
            "levels": asdict(self.levels),
            "said_of": said_of,
        }

    @classmethod
    def from_json(cls, found: Mapping[str, Any]) -> "Arrival":
        """Return what `as_json` wrote."""
        said_of = dict(found["said_of"])
        born = said_of.pop("birth_date")
        return cls(
            **{
                **found,
                "facts": ImageFacts.from_json(found["facts"]),
                "levels": Levels(**found["levels"]),
                "said_of": SaidOf(**said_of, birth_date=date.fromisoformat(born) if born else None),
            }
        )
