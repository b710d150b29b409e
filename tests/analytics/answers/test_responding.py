import pandas as pd

from analytics.answers import responding
from tests.analytics.cohort import CUTOFF
from tests.analytics.followed import review, reviews, score, scores

OWN = frozenset({"pain_nrs", "quickdash"})
END = pd.Timestamp(CUTOFF)


def test_those_answered_are_of_those_whose_window_is_over() -> None:
    due = reviews(
        [
            review(),
            review("missed", procedure_id=2),
            review("lapsed", procedure_id=3),
            review("death", procedure_id=4),
            review("open", procedure_id=5, closes_on=CUTOFF),
            review("done_in_window", "6w"),
        ]
    )
    given = scores([score(), score(procedure_id=2, mode="remote"), score(step="6w")])
    six, twelve = responding.answer(due, given, END, OWN)
    assert (six.name, six.share.number, six.share.of) == ("6 weeks", 1, 1)
    assert (twelve.share.number, twelve.share.of) == (2, 3)
    assert (twelve.answered, twelve.silent) == ((1, 2), (3,))
    assert twelve.words == "66.7% (20.8% to 93.9%)"
    assert not twelve.few


def test_fewer_than_six_in_ten_is_marked() -> None:
    due = reviews([review(), review("missed", procedure_id=2)])
    (found,) = responding.answer(due, scores([score()]), END, OWN)
    assert found.few


def test_a_review_that_asked_for_no_score_of_the_patients_is_not_counted() -> None:
    due = reviews([review(scores_required="constant"), review(procedure_id=2, scores_required="")])
    assert responding.answer(due, scores([score()]), END, OWN) == ()


def test_a_score_without_a_total_or_by_the_surgeon_is_no_answer() -> None:
    due = reviews([review(), review(procedure_id=2)])
    given = scores([score(None), score(80, instrument="constant", procedure_id=2)])
    (found,) = responding.answer(due, given, END, OWN)
    assert (found.share.number, found.share.of) == (0, 2)
    assert found.few


def test_plain_rows_have_the_share_and_its_interval() -> None:
    due = reviews([review(), review("missed", procedure_id=2)])
    (row,) = responding.to_rows(responding.answer(due, scores([score()]), END, OWN))
    assert (row["horizon"], row["wanted"], row["answered"], row["share"]) == (
        "12 months",
        2,
        1,
        0.5,
    )
