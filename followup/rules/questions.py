"""What a patient is asked at home, in our own words, and how the questions are spread over pages.

The words are English and the keys of the translations; whoever shows them translates them. Items of
licensed instruments have no words here: a site pastes them under its own licence.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from followup.rules.scores.catalogue import INSTRUMENTS
from followup.rules.wordings import ITEM_FORMS, ItemWords


def N_(words: str) -> str:  # noqa: N802 - the name that collectors of translations look for
    """Mark words for translation and return them as they are."""
    return words


@dataclass(frozen=True)
class Choice:
    """One possible answer: the code that is kept, and its words."""

    code: str
    words: str


@dataclass(frozen=True)
class Question:
    """One question. Without choices its answer is a whole number from `low` to `high`.

    `name` is what people of the service call it. `pasted` words are a site's and not translated.
    """

    code: str
    name: str
    words: str
    choices: tuple[Choice, ...] = ()
    low: int = 0
    high: int = 0
    hint: str = ""
    pasted: bool = False


@dataclass(frozen=True)
class Page:
    """A few questions that are asked together; `instrument` is '' for our own."""

    code: str
    questions: tuple[Question, ...]
    instrument: str = ""


@dataclass(frozen=True)
class Block:
    """Questions of ours that a step asks together or not at all."""

    name: str
    questions: tuple[Question, ...]


def _choices(*pairs: tuple[str, str]) -> tuple[Choice, ...]:
    return tuple(Choice(code, words) for code, words in pairs)


YES_NO = _choices(("no", N_("No")), ("yes", N_("Yes")))
HOW_OFTEN = _choices(("never", N_("Never")), ("sometimes", N_("Sometimes")), ("often", N_("Often")))
WHO = Question(
    "who",
    "answered by",
    N_("Who is answering?"),
    _choices(("self", N_("I am the patient")), ("other", N_("Somebody else, for the patient"))),
)
BLOCKS: dict[str, Block] = {
    "wound": Block(
        "Wound and fever",
        (
            Question(
                "fever",
                "fever",
                N_("Have you had a fever, 38.3 degrees Celsius or more, in the last days?"),
                YES_NO,
            ),
            Question(
                "wound_leaks",
                "wound leaking",
                N_("Does fluid or pus come out of the wound at your shoulder?"),
                YES_NO,
            ),
        ),
    ),
    "shape": Block(
        "Sudden change of shape",
        (
            Question(
                "shape",
                "sudden change of shape",
                N_("Has your operated shoulder suddenly changed its shape since the last visit?"),
                YES_NO,
                hint=N_("For example a new step or bump, after a fall, a jerk or a crack."),
            ),
        ),
    ),
    "pain": Block(
        "Pain, 0 to 10",
        (
            Question(
                "pain",
                "pain",
                N_("How strong was the pain in your operated shoulder in the last week?"),
                tuple(Choice(str(number), str(number)) for number in range(11)),
                hint=N_("0 is no pain, 10 is the worst pain that you can imagine."),
            ),
        ),
    ),
    "function": Block(
        "Function in one number, 0 to 100",
        (
            Question(
                "function",
                "function",
                N_("How well does your operated shoulder work today, in one number?"),
                high=100,
                hint=N_("100 is a shoulder as good as before, 0 is a shoulder of no use at all."),
            ),
        ),
    ),
    "satisfaction": Block(
        "Satisfaction",
        (
            Question(
                "satisfaction",
                "satisfaction",
                N_("How content are you with your operated shoulder?"),
                _choices(
                    ("very", N_("Very content")),
                    ("rather", N_("Rather content")),
                    ("neither", N_("Neither content nor discontent")),
                    ("rather_not", N_("Rather discontent")),
                    ("not", N_("Very discontent")),
                ),
            ),
        ),
    ),
    "work": Block(
        "Return to work",
        (
            Question(
                "work",
                "work",
                N_("Have you gone back to work since the operation?"),
                _choices(
                    ("same", N_("Yes, to the same work as before")),
                    ("lighter", N_("Yes, to lighter work or fewer hours")),
                    ("not_yet", N_("Not yet")),
                    ("not_because", N_("No, and I shall not because of the shoulder")),
                    ("none", N_("I had no paid work before the operation")),
                ),
            ),
        ),
    ),
    "sport": Block(
        "Return to sport",
        (
            Question(
                "sport",
                "sport",
                N_("Have you gone back to your sport since the operation?"),
                _choices(
                    ("same", N_("Yes, as much as before")),
                    ("less", N_("Yes, but less than before")),
                    ("not_yet", N_("Not yet")),
                    ("not_because", N_("No, and I shall not because of the shoulder")),
                    ("none", N_("I did no sport before the injury")),
                ),
            ),
        ),
    ),
    "hardware": Block(
        "What the hardware does",
        (
            Question(
                "hw_rubs",
                "rubs",
                N_("Does the metal in your shoulder rub under the skin or on clothes?"),
                HOW_OFTEN,
            ),
            Question(
                "hw_strap",
                "sore under a strap",
                N_("Does it get sore where a strap of a bag, a bra or a seat belt lies?"),
                HOW_OFTEN,
            ),
            Question(
                "hw_tender",
                "tender over the plate",
                N_("Is the place over the metal tender when you press on it?"),
                HOW_OFTEN,
            ),
            Question(
                "hw_sleep",
                "disturbs sleep",
                N_("Does the metal disturb your sleep?"),
                HOW_OFTEN,
            ),
            Question(
                "hw_out",
                "wish to have it out",
                N_("Do you wish to have the metal taken out?"),
                _choices(("no", N_("No")), ("unsure", N_("I am not sure")), ("yes", N_("Yes"))),
            ),
        ),
    ),
}
# Which of our blocks is kept as which instrument's score.
SCORED = {"pain": "pain_nrs", "function": "sane"}
HOUSE = {question.code: question for block in BLOCKS.values() for question in block.questions}
HOUSE[WHO.code] = WHO
ITEMS_ON_A_PAGE = 3
# From when on after the operation a shipped form asks; common practice, no source.
WOUND_UNTIL_DAYS, WORK_FROM_DAYS, SPORT_FROM_DAYS = 42, 42, 84


class Step(Protocol):
    """What of a protocol's step says which questions belong to it."""

    scores: Collection[str]
    wound_check: bool


def licensed(code: str) -> bool:
    """Say whether a code is that of an instrument that patients answer in words a site pastes."""
    return code in ITEM_FORMS


def shipped_contents(step: Step, offset_days: int) -> tuple[str, ...]:
    """Return what a step asks as long as its site has chosen nothing else; nothing where the step
    wants neither a score nor a look at the wound.

    Pain and satisfaction are always among it (common practice, no source); `offset_days` counts from the operation.
    """
    if not step.scores and not step.wound_check:
        return ()
    wanted = {"shape", "pain", "satisfaction"}
    if step.wound_check or offset_days <= WOUND_UNTIL_DAYS:
        wanted.add("wound")
    if offset_days >= WORK_FROM_DAYS:
        wanted |= {"function", "work", "hardware"}
    if offset_days >= SPORT_FROM_DAYS:
        wanted.add("sport")
    return in_order((*wanted, *(code for code in step.scores if licensed(code))))


def in_order(codes: Collection[str]) -> tuple[str, ...]:
    """Return blocks and instruments in the order in which they are asked; what is unknown goes."""
    ours = tuple(code for code in BLOCKS if code in codes)
    return (*ours, *(code for code in INSTRUMENTS if licensed(code) and code in codes))


def pages_of(
    contents: Sequence[str], wordings: Mapping[str, Sequence[ItemWords]]
) -> tuple[Page, ...]:
    """Spread what is asked over pages; an instrument without words in this language is left out."""
    pages: list[Page] = []
    for code in in_order(contents):
        if code in BLOCKS:
            pages.append(Page(code, BLOCKS[code].questions))
            continue
        asked = [item_question(code, item) for item in wordings.get(code, ())]
        pages += [
            Page(f"{code}-{start // ITEMS_ON_A_PAGE + 1}", tuple(some), code)
            for start in range(0, len(asked), ITEMS_ON_A_PAGE)
            if (some := asked[start : start + ITEMS_ON_A_PAGE])
        ]
    return tuple(pages)


def item_question(instrument: str, item: ItemWords) -> Question:
    """Return one numbered item of an instrument as a question in the words that a site pasted."""
    choices = tuple(Choice(str(value), words) for value, words in item.choices)
    name = f"{INSTRUMENTS[instrument].name} {item.number}"
    return Question(f"{instrument}:{item.number}", name, item.text, choices, pasted=True)


def fault_in(question: Question, value: str) -> str:
    """Return what is wrong with an answer, '' when it is a possible one or none at all."""
    if not value:
        return ""
    if question.choices:
        known = {choice.code for choice in question.choices}
        return "" if value in known else N_("Please choose one of the answers.")
    if value.isascii() and value.isdigit() and question.low <= int(value) <= question.high:
        return ""
    return N_("Please write a whole number within the range.")


def answers_to(code: str, answers: Mapping[str, str]) -> dict[int, float]:
    """Return the numbered answers that were given to an instrument, of ours or pasted.

    An item of an instrument that asks for pain as we do is answered by our own question of pain.
    """
    if code in SCORED:
        return {1: float(answers[code])} if answers.get(code) else {}
    numbered = (
        (key.partition(":"), value) for key, value in answers.items() if value and ":" in key
    )
    found = {int(number): float(value) for (name, _, number), value in numbered if name == code}
    pasted = ITEM_FORMS[code].numbers if code in ITEM_FORMS else ()
    for item in INSTRUMENTS[code].items if found and answers.get("pain") else ():
        # What no site pastes and goes from 0 to 10 is pain, which others score as we ask it.
        if item.number not in pasted and (item.low, item.high) == (0, 10):
            found[item.number] = float(answers["pain"])
    return found


def words_of(code: str, value: str) -> tuple[str, str]:
    """Return what people of the service call a question of ours, and its answer, in English."""
    question = HOUSE[code]
    words = {choice.code: choice.words for choice in question.choices}
    return question.name, words.get(value, value)
