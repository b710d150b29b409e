"""What motion and scores are: unit, which way is better, and published states worth naming."""

from dataclasses import dataclass
from typing import Literal

from followup.rules.scores.catalogue import INSTRUMENTS, Instrument

Kind = Literal["score", "degrees", "level"]


@dataclass(frozen=True)
class Acceptable:
    """A published value that patients of some population called acceptable."""

    value: float
    source: str
    population: str


@dataclass(frozen=True)
class Measure:
    """One movement or instrument; `worth` says which change patients were found to notice."""

    code: str
    name: str
    kind: Kind
    unit: str
    lower_is_better: bool
    direction: str
    acceptable: Acceptable | None = None
    worth: str = ""

    def reaches(self, value: float) -> bool:
        """Say whether a value is acceptable.

        Raises ValueError where no acceptable value is published.
        """
        if self.acceptable is None:
            raise ValueError(f"no acceptable value of {self.name} is published")
        limit = self.acceptable.value
        return value <= limit if self.lower_is_better else value >= limit


# No value was derived in clavicle fractures or AC joints; these are of other patients, and say so.
ARTHROPLASTY = "shoulder arthroplasty, not fractures or AC joints"
ACCEPTABLE: dict[str, Acceptable] = {
    "pain_nrs": Acceptable(1.5, "Chamberlain 2017 (place from memory)", ARTHROPLASTY),
    "ases": Acceptable(76, "Chamberlain 2017 (place from memory)", ARTHROPLASTY),
}
WORTH: dict[str, str] = {
    "pain_nrs": "2 points (from memory)",
    "quickdash": "14 points (9 to 20), by the outcome page of a hand-surgery society",
    "dash": "10.2 points, Roy 2009",
    "constant": "6.7 points at 12 months, after cuff repair (PMC6994807)",
    "ases": "21 points, after arthroplasty",
    "sane": "14.9 points, after arthroplasty (10.1016/j.jse.2020.07.011)",
    "flexion": "two examiners differ by up to about 20 degrees (de Winter 2004)",
    "abduction": "two examiners differ by up to 19.6 degrees (de Winter 2004)",
    "external_rotation": "two examiners differ by up to 18.8 degrees (de Winter 2004)",
    "internal_rotation": "two examiners differ by one level on average",
}
# The thumb's highest landmark, from the lowest up.
LEVELS = ("thigh", "buttock", "lumbosacral junction", "L3", "T12", "T7")
MOVEMENTS = {
    "flexion": "Flexion",
    "abduction": "Abduction",
    "external_rotation": "External rotation",
}


def _score(one: Instrument) -> Measure:
    return Measure(
        one.code,
        one.name,
        "score",
        "",
        one.lower_is_better,
        one.direction,
        ACCEPTABLE.get(one.code),
        WORTH.get(one.code, ""),
    )


def _movement(code: str, name: str) -> Measure:
    return Measure(
        code,
        name,
        "degrees",
        "°",
        lower_is_better=False,
        direction="active, in degrees; more is better",
        worth=WORTH[code],
    )


MEASURES: dict[str, Measure] = {
    **{code: _score(one) for code, one in INSTRUMENTS.items()},
    **{code: _movement(code, name) for code, name in MOVEMENTS.items()},
    "internal_rotation": Measure(
        "internal_rotation",
        "Internal rotation",
        "level",
        "",
        lower_is_better=False,
        direction="the highest landmark that the thumb reaches, ordered and never averaged",
        worth=WORTH["internal_rotation"],
    ),
}
