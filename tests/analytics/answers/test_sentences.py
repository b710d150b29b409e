from typing import Any

import pytest

from analytics.answers.sentences import verdict_sentence, verdict_sentences
from analytics.endpoints.catalogue import DEFINITIONS, apply
from tests.analytics.cohort import data, film, harm, on

FIRST = film(2, 8.9, 8.9)


def sentence(
    name: str,
    films: "list[dict[str, Any]] | tuple[()]" = (),
    harms: "list[dict[str, Any]] | tuple[()]" = (),
    **case: Any,
) -> str:
    return verdict_sentence(apply(DEFINITIONS[name], data([case], films, harms)), 1)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        (
            "rise-3mm",
            "Held up to 9 Apr 2024 (11.2 mm against 8.9 mm: 2.3 mm above the first film).",
        ),
        (
            "ratio-25",
            (
                "Lost between 12 Jan 2024 and 9 Apr 2024 "
                "(11.2 mm against 8.9 mm: 25.8 % above the other side)."
            ),
        ),
        (
            "ratio-50",
            "Held up to 9 Apr 2024 (11.2 mm against 8.9 mm: 25.8 % above the other side, partial).",
        ),
        (
            "difference-5mm",
            "Held up to 9 Apr 2024 (11.2 mm against 8.9 mm: 2.3 mm above the other side).",
        ),
    ],
)
def test_one_case_is_said_by_each_rule_with_its_numbers(name: str, said: str) -> None:
    assert sentence(name, [FIRST, film(90, 11.2, 8.9)]) == said


def test_a_ratio_without_millimetres_is_said_alone() -> None:
    films = [
        film(day, calibrated=False, ccd_side_ratio_pct=ratio)
        for day, ratio in ((2, 4.0), (90, 8.0))
    ]
    assert sentence("ratio-25", films) == "Held up to 9 Apr 2024 (8.0 % above the other side)."


def test_a_case_that_cannot_be_judged_says_why() -> None:
    assert sentence("rise-3mm") == "Not evaluable: no measurable film in the baseline window."
    assert sentence("ratio-25", [FIRST], other_shoulder="unknown") == (
        "Not evaluable: the other shoulder is not an uninjured reference."
    )


@pytest.mark.parametrize(
    ("case", "ending"),
    [
        ({"revised_on": on(100)}, "; a revision fixation came first, on 19 Apr 2024."),
        (
            {"patient_status": "died", "status_on": on(100)},
            "; the patient died on 19 Apr 2024.",
        ),
    ],
)
def test_what_came_first_is_said(case: dict[str, Any], ending: str) -> None:
    said = sentence("rise-3mm", [FIRST, film(90, 9.0)], **case)
    assert said.startswith("Held up to 9 Apr 2024")
    assert said.endswith(ending)


def test_a_loss_before_a_revision_is_said_as_a_loss() -> None:
    said = sentence("rise-3mm", [FIRST, film(90, 14.0)], revised_on=on(100))
    assert said.startswith("Lost between 12 Jan 2024 and 9 Apr 2024")
    assert "revision" not in said


@pytest.mark.parametrize(
    ("films", "said"),
    [
        ([], "No film was judged for union."),
        ([film(90, union="none")], "Not united up to 9 Apr 2024."),
        ([film(90, union="united")], "United on 9 Apr 2024."),
        (
            [film(42, union="none"), film(90, union="united")],
            "United between 21 Feb 2024 and 9 Apr 2024.",
        ),
    ],
)
def test_union_is_said_with_its_films(films: list[dict[str, Any]], said: str) -> None:
    assert sentence("union-film", films) == said


def test_a_complication_is_said_by_its_kind_and_day() -> None:
    harms = [harm(90, "nerve"), harm(90, "impingement"), harm(200, "stiffness")]
    assert sentence("any-complication", harms=harms) == (
        "Nerve injury or numbness and Impingement on 9 Apr 2024."
    )
    assert sentence("any-complication") == "Not seen since the operation."
    assert sentence("any-complication", last_seen_on=on(90)) == "No event up to 9 Apr 2024."


@pytest.mark.parametrize(
    ("name", "films", "said"),
    [
        (
            "nonunion-6m",
            [(200, "none"), (300, "united")],
            "Not united at 6 months (10 Jul 2024): nor on the film of 28 Jul 2024.",
        ),
        (
            "delayed-union-6m",
            [(200, "none"), (300, "united")],
            "United after 6 months, between 28 Jul 2024 and 5 Nov 2024.",
        ),
        ("nonunion-6m", [(90, "united")], "United in time: seen on 9 Apr 2024."),
        (
            "nonunion-6m",
            [(90, "none"), (300, "united")],
            (
                "Not united up to 9 Apr 2024; found later; whether it had happened by the horizon "
                "is not known."
            ),
        ),
        ("delayed-union-6m", [(200, "none")], "Not united up to 28 Jul 2024."),
        ("delayed-union-6m", [], "No film was judged for union."),
    ],
)
def test_six_months_are_said_with_the_films(
    name: str, films: list[tuple[int, str]], said: str
) -> None:
    assert sentence(name, [film(at, union=word) for at, word in films]) == said


def test_a_small_change_is_said_to_be_within_measurement_error() -> None:
    assert sentence("rise-3mm", [FIRST, film(90, 10.1, 8.9)]) == (
        "Held up to 9 Apr 2024 (10.1 mm against 8.9 mm: 1.2 mm above the first film; less than 2.0 "
        "mm from the first film: within measurement error)."
    )


def test_a_loss_seen_once_is_said_to_wait() -> None:
    assert sentence("rise-3mm-confirmed", [FIRST, film(90, 14.0)]).endswith(
        "; over the threshold on the last film only: no second film has confirmed it."
    )


@pytest.mark.parametrize(
    ("later", "said"),
    [
        (
            {"translation_pct": 60},
            "(translation 60 % of the shaft against 5 % on the first film).",
        ),
        (
            {"translation_pct": 60, "hardware": "loose"},
            (
                "(translation 60 % of the shaft against 5 % on the first film; hardware loose, "
                "broken or migrated)."
            ),
        ),
        ({"hardware": "broken"}, "(hardware loose, broken or migrated)."),
    ],
)
def test_a_failure_is_said_by_what_the_film_shows(later: dict[str, Any], said: str) -> None:
    films = [film(2, translation_pct=5), film(90, **later)]
    assert sentence("fixation-failure", films) == f"Lost between 12 Jan 2024 and 9 Apr 2024 {said}"


def test_a_removal_that_came_first_is_said() -> None:
    said = sentence("implant-failure", last_seen_on=on(200), removed_on=on(120))
    assert said == "No event up to 28 Jul 2024; the implant was removed first, on 9 May 2024."


def test_several_cases_are_said_at_once() -> None:
    given = data([{}, {}, {}], [FIRST, film(90, 14.0), film(2, 9.0, procedure_id=3)])
    said = verdict_sentences(apply(DEFINITIONS["rise-3mm"], given), [3, 1])
    assert list(said) == [3, 1]
    assert said[1].startswith("Lost between")
    assert said[3].startswith("Held up to 12 Jan 2024")


def test_a_case_outside_the_cohort_is_refused() -> None:
    with pytest.raises(KeyError):
        verdict_sentence(apply(DEFINITIONS["rise-3mm"], data()), 99)
