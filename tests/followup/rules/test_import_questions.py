"""What only a person can say is asked by the column and by the word, once."""

from followup.rules import column_survey, import_questions
from followup.rules.case_translation import ColumnUse, Translation
from followup.rules.column_survey import Held


def held(**columns: tuple[str, ...]) -> dict[str, Held]:
    survey = column_survey.survey_of(len(columns))
    for column, values in zip(survey, columns.values(), strict=True):
        for value in values:
            column.note(value)
    return dict(zip(columns, survey, strict=True))


def test_days_that_are_all_year_first_ask_nothing() -> None:
    found = Translation((ColumnUse("op", "procedure_date"), ColumnUse("x", "")))
    survey = held(op=("2025-02-06", "2025"), x=("03/04/25",))
    assert import_questions.days_asked(found, survey, "") == []


def test_days_in_another_order_and_unclear_commas_are_asked_about() -> None:
    found = Translation((ColumnUse("op", "procedure_date"), ColumnUse("bmi", "bmi")))
    survey = held(op=("03/04/25",), bmi=("23,456", "22,1"))
    day, number = import_questions.days_asked(found, survey, "")
    assert day.settled is not None
    assert (day.settled.asks_order, day.settled.asks_years) == (True, True)
    assert day.meaning == "date of the fixation"
    assert (number.settled, number.unclear_number) == (None, "23,456")


def test_words_that_are_codes_are_not_asked_about_and_what_was_explained_is_told() -> None:
    found = Translation(
        (ColumnUse("side", "side"), ColumnUse("u6", "f6w_union"), ColumnUse("u12", "f12m_union")),
        words={"side": {"li": "left"}},
    )
    survey = held(side=("left", "LI", "both"), u6=("ja", "ja"), u12=("JA", "unknown"))
    asked = import_questions.words_asked(found, survey, {}, {})
    assert [(one.vocabulary, one.word, one.count, one.proposal) for one in asked] == [
        ("side", "LI", 1, "left"),
        ("side", "both", 1, None),
        ("union", "JA", 3, "united"),
    ]
    assert [one.may_be_empty for one in asked] == [False, False, True]
    assert [one.was_answered for one in asked] == [True, False, False]


def test_codes_of_the_service_are_offered_where_the_column_holds_them() -> None:
    found = Translation((ColumnUse("implant", "construct_type"),))
    listed = {"construct_type": ["LP", "HP"], "surgeon": []}
    (one,) = import_questions.words_asked(found, held(implant=("hook",)), listed, {"HP": "Hook"})
    assert (one.codes, one.proposal) == (("LP", "HP"), "HP")


def test_an_answer_that_is_no_longer_possible_is_asked_about_again() -> None:
    found = Translation(
        (ColumnUse("implant", "construct_type"), ColumnUse("union", "f6w_union")),
        words={"construct_type": {"hook": "HP", "plate": "LP"}, "union": {"?": "", "bad": "!"}},
    )
    survey = held(implant=("hook", "plate"), union=("?", "bad"))
    asked = import_questions.words_asked(found, survey, {"construct_type": ["LP"]}, {})
    assert [(one.word, one.was_answered, one.proposal) for one in asked] == [
        ("hook", False, None),
        ("plate", True, "LP"),
        ("?", True, ""),
        ("bad", True, "!"),
    ]
