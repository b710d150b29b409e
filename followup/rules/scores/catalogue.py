"""The instruments that can be recorded: range, direction, items, missing rule, source, licence.

Totals are checked here, and totals are computed from numbered answers by the rule of the instrument.
"""

from collections.abc import Callable
from dataclasses import dataclass

from followup.rules.scores import ases, constant, disability, oxford
from followup.rules.scores.result import Item, ScoreResult, fault_in, no_number


@dataclass(frozen=True)
class Instrument:
    """One outcome instrument. `best` is the end of its range that means the best state."""

    code: str
    name: str
    version: str
    low: float
    high: float
    best: float
    patient_reported: bool
    licence: str
    items: tuple[Item, ...]
    missing_rule: str
    source: str
    from_items: Callable[[dict[int, float]], ScoreResult]

    @property
    def lower_is_better(self) -> bool:
        """Whether a smaller number is the better state."""
        return self.best == self.low

    @property
    def direction(self) -> str:
        """Say the range and which end is best."""
        return f"{self.low:g} to {self.high:g}, {self.best:g} is best"


LICENSED = "Item wording is licensed by its owner and not shipped; enter item numbers or the total."
FREE = "Free to use (from memory)."
IWH = "Institute for Work & Health, scoring of the DASH and QuickDASH, 2006"
ALL_NEEDED = "Every answer is needed."
ONE_ANSWER = "One answer; without it there is no score."


def _one(low: float, high: float, *, whole: bool, words: str) -> tuple[Item, ...]:
    return (Item(1, low, high, whole=whole, words=words),)


def _single(known: tuple[Item, ...]) -> Callable[[dict[int, float]], ScoreResult]:
    """Return the rule of an instrument whose one answer is its score."""

    def score(items: dict[int, float]) -> ScoreResult:
        fault = fault_in(items, known)
        if fault:
            return no_number(fault)
        return ScoreResult(items[1]) if items else no_number("0 of 1 items answered; it is needed")

    return score


PAIN = _one(0, 10, whole=False, words="Pain, 0 none to 10")
SANE = _one(0, 100, whole=False, words="The shoulder as a share of a normal one, 0 to 100")

INSTRUMENTS: dict[str, Instrument] = {
    row.code: row
    for row in (
        Instrument(
            "pain_nrs",
            "Pain, 0 to 10",
            "1",
            0,
            10,
            0,
            patient_reported=True,
            licence=FREE,
            items=PAIN,
            missing_rule=ONE_ANSWER,
            source="numeric rating of pain; common practice",
            from_items=_single(PAIN),
        ),
        Instrument(
            "quickdash",
            "QuickDASH",
            "2006",
            0,
            100,
            0,
            patient_reported=True,
            licence=LICENSED,
            items=disability.QUICKDASH_ITEMS,
            missing_rule="At least 10 of 11 answers; the mean of those given is used.",
            source=IWH,
            from_items=disability.quickdash,
        ),
        Instrument(
            "dash",
            "DASH",
            "2006",
            0,
            100,
            0,
            patient_reported=True,
            licence=LICENSED,
            items=disability.DASH_ITEMS,
            missing_rule="At least 27 of 30 answers; the mean of those given is used.",
            source=IWH,
            from_items=disability.dash,
        ),
        Instrument(
            "dash_work",
            "DASH work module",
            "2006",
            0,
            100,
            0,
            patient_reported=True,
            licence=LICENSED,
            items=disability.MODULE_ITEMS,
            missing_rule=ALL_NEEDED,
            source=IWH,
            from_items=disability.module,
        ),
        Instrument(
            "dash_sport",
            "DASH sport and music module",
            "2006",
            0,
            100,
            0,
            patient_reported=True,
            licence=LICENSED,
            items=disability.MODULE_ITEMS,
            missing_rule=ALL_NEEDED,
            source=IWH,
            from_items=disability.module,
        ),
        Instrument(
            "constant",
            "Constant-Murley",
            "2008",
            0,
            100,
            100,
            patient_reported=False,
            licence=LICENSED,
            items=constant.ITEMS,
            missing_rule="Every part is needed (from memory); strength is 0, not missing, where the "
            "arm does not reach 90 degrees.",
            source="Constant and Murley, Clin Orthop 1987;214:160; Constant et al. 2008",
            from_items=constant.from_numbers,
        ),
        Instrument(
            "ases",
            "ASES",
            "1994",
            0,
            100,
            100,
            patient_reported=True,
            licence=LICENSED,
            items=ases.ITEMS,
            missing_rule="Pain and all ten answers are needed: the original states no other rule.",
            source="Richards et al., J Shoulder Elbow Surg 1994;3:347",
            from_items=ases.from_numbers,
        ),
        Instrument(
            "sane",
            "SANE",
            "1",
            0,
            100,
            100,
            patient_reported=True,
            licence=FREE,
            items=SANE,
            missing_rule=ONE_ANSWER,
            source="Williams et al., J Shoulder Elbow Surg 1999;8:214 (citation from memory)",
            from_items=_single(SANE),
        ),
        Instrument(
            "oss",
            "Oxford Shoulder Score",
            "2009",
            0,
            48,
            48,
            patient_reported=True,
            licence=LICENSED,
            items=oxford.ITEMS,
            missing_rule="At least 10 of 12 answers; a missing one counts as the mean of the others "
            "(from memory).",
            source="Dawson et al., Arch Orthop Trauma Surg 2009;129:119",
            from_items=oxford.oxford,
        ),
    )
}


@dataclass(frozen=True)
class OlderForm:
    """A form whose results are kept on the scale of the instrument that took its place."""

    kept_as: str
    version: str
    name: str
    low: float
    high: float
    items: tuple[Item, ...]
    from_total: Callable[[float], ScoreResult]
    from_items: Callable[[dict[int, float]], ScoreResult]
    answer: Callable[[float], float]


OLDER_FORMS: dict[str, OlderForm] = {
    "oss_12_60": OlderForm(
        kept_as="oss",
        version="2009 from 12-60",
        name="Oxford Shoulder Score, older form (12 best to 60)",
        low=12,
        high=60,
        items=oxford.OLDER_ITEMS,
        from_total=oxford.from_older_total,
        from_items=oxford.from_older_items,
        answer=oxford.answer_of_older,
    )
}


def total(code: str, value: float) -> ScoreResult:
    """Check a total that was computed elsewhere against the instrument's range.

    Raises KeyError for an unknown instrument.
    """
    if code in OLDER_FORMS:
        return OLDER_FORMS[code].from_total(value)
    instrument = INSTRUMENTS[code]
    if not instrument.low <= value <= instrument.high:
        return no_number(
            f"{value:g} is outside {instrument.low:g} to {instrument.high:g} of {instrument.name}"
        )
    return ScoreResult(value)


def from_items(code: str, items: dict[int, float]) -> ScoreResult:
    """Compute a total from numbered answers.

    Raises KeyError for an unknown instrument.
    """
    form = OLDER_FORMS.get(code) or INSTRUMENTS[code]
    return form.from_items(items)


def answers_fault(code: str, items: dict[int, float]) -> str:
    """Name the first answer that no item of an instrument can take; '' when all are possible.

    Too few answers are no fault: they are kept, with the reason why there is no total. Raises
    KeyError for an unknown instrument.
    """
    form = OLDER_FORMS.get(code) or INSTRUMENTS[code]
    return fault_in(items, form.items)
