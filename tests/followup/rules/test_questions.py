"""What is asked when, how it is spread over pages, and which answers are possible."""

from dataclasses import dataclass, field

import pytest

from followup.rules import questions, wordings
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.rules.wordings import ItemWords


@dataclass(frozen=True)
class Step:
    scores: list[str] = field(default_factory=list)
    wound_check: bool = False


def items(count: int = 11) -> tuple[ItemWords, ...]:
    return tuple(ItemWords(n, f"task {n}", ((1, "easy"), (5, "hard"))) for n in range(1, count + 1))


def test_an_early_step_asks_for_fever_and_not_for_sport() -> None:
    asked = questions.shipped_contents(Step(["pain_nrs"], wound_check=True), 14)
    assert asked == ("wound", "shape", "pain", "satisfaction")


def test_a_late_step_asks_for_work_sport_hardware_and_its_instrument() -> None:
    asked = questions.shipped_contents(Step(["pain_nrs", "quickdash", "sane", "constant"]), 184)
    assert asked == (
        *("shape", "pain", "function", "satisfaction", "work", "sport", "hardware"),
        "quickdash",
    )


@pytest.mark.parametrize(
    ("days", "there"),
    [(41, {"wound"}), (42, {"wound", "work"}), (43, {"work"}), (84, {"work", "sport"})],
)
def test_what_is_asked_begins_and_ends_on_its_day(days: int, there: set[str]) -> None:
    asked = set(questions.shipped_contents(Step(["pain_nrs"]), days))
    assert asked & {"wound", "work", "sport"} == there


def test_a_step_that_wants_no_score_and_no_look_at_the_wound_asks_nothing() -> None:
    assert questions.shipped_contents(Step(), 2) == ()


def test_what_a_clinician_rates_is_never_asked_at_home() -> None:
    assert "constant" not in questions.shipped_contents(Step(["constant"]), 184)


def test_pages_hold_a_few_items_and_leave_out_an_instrument_without_words() -> None:
    pages = questions.pages_of(["quickdash", "pain", "dash"], {"quickdash": items()})
    assert [page.code for page in pages] == [
        *("pain", "quickdash-1", "quickdash-2", "quickdash-3", "quickdash-4")
    ]
    assert [len(page.questions) for page in pages] == [1, 3, 3, 3, 2]
    assert pages[1].questions[0].code == "quickdash:1"
    assert pages[1].questions[0].pasted


def test_what_is_unknown_is_not_asked() -> None:
    assert questions.in_order(["pain", "nonsense"]) == ("pain",)


@pytest.mark.parametrize(
    ("code", "value", "possible"),
    [
        ("pain", "10", True),
        ("pain", "11", False),
        ("pain", "", True),
        ("function", "0", True),
        ("function", "100", True),
        ("function", "101", False),
        ("function", "-1", False),
        ("function", "5.5", False),
        ("function", "\u0665", False),
        ("fever", "maybe", False),
    ],
)
def test_an_answer_is_possible_or_not(code: str, value: str, possible: bool) -> None:
    assert (questions.fault_in(questions.HOUSE[code], value) == "") is possible


def test_the_answers_to_an_instrument_are_found_by_their_numbers() -> None:
    given = {"quickdash:2": "4", "quickdash:11": "", "dash:2": "1", "pain": "3"}
    assert questions.answers_to("quickdash", given) == {2: 4.0}
    assert questions.answers_to("pain", given) == {1: 3.0}
    assert questions.answers_to("function", given) == {}


def test_our_question_of_pain_is_the_pain_of_an_instrument_that_asks_for_it() -> None:
    function = {f"ases:{number}": "3" for number in range(1, 11)}
    answers = questions.answers_to("ases", {**function, "pain": "2"})
    assert answers[11] == 2.0
    # (10 - 2) x 5 + 30 x 5 / 3.
    assert INSTRUMENTS["ases"].from_items(answers).value == 90
    assert 11 not in questions.answers_to("ases", function)
    assert questions.answers_to("ases", {"pain": "2"}) == {}


def test_no_licensed_instrument_has_words_of_ours() -> None:
    ours = {question.code for block in questions.BLOCKS.values() for question in block.questions}
    assert not {code for code in ours if ":" in code}
    for code in INSTRUMENTS:
        if questions.licensed(code):
            assert questions.pages_of([code], {}) == ()


def test_a_form_has_the_items_of_its_instrument_and_their_answers() -> None:
    forms = {code: (len(f.numbers), f.low, f.high) for code, f in wordings.ITEM_FORMS.items()}
    assert forms == {
        "quickdash": (11, 1, 5),
        "dash": (30, 1, 5),
        "dash_work": (4, 1, 5),
        "dash_sport": (4, 1, 5),
        "ases": (10, 0, 3),
        "oss": (12, 0, 4),
    }


def test_an_answer_is_said_in_words() -> None:
    assert questions.words_of("work", "not_yet") == ("work", "Not yet")
    assert questions.words_of("function", "80") == ("function", "80")
