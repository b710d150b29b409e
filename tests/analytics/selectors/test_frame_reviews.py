from datetime import timedelta
from typing import Any

import pandas as pd
import pytest

from analytics.selectors import frame_reviews, frames
from followup.models import Invitation, Review
from followup.models.protocols import ProtocolStep
from followup.rules import states
from followup.selectors.sums import WAYS
from tests.analytics.records import OPERATED, held, operation, reading
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
DAY = timedelta(days=1)


def review_of(step: str) -> Review:
    return Review.objects.get(step__code=step)


def change(step: str, **values: Any) -> Review:
    row = review_of(step)
    Review.objects.filter(pk=row.pk).update(**values)
    row.refresh_from_db()
    return row


def by_step(**more: Any) -> dict[str, dict[str, Any]]:
    rows = frames.build(None, more.get("cutoff", TODAY)).reviews.to_dict("records")
    return {row["step"]: row for row in rows}


def test_each_review_ended_in_one_way_or_is_open() -> None:
    operation()
    twelve, six = review_of("12m"), review_of("6m")
    change("12m", state="attended", attended_on=twelve.closes_on)
    change("6m", state="attended", attended_on=six.closes_on + DAY)
    change("3m", state="missed")
    change("6w", state="not_needed", ended_because="chosen", ended_reason="lives abroad")
    change("2w", state="not_needed", ended_because="withdrawal")
    change("24m", state="booked")
    found = {step: row["way"] for step, row in by_step().items()}
    assert found == {
        **dict.fromkeys(found, "open"),
        "12m": "done_in_window",
        "6m": "done_outside",
        "3m": "missed",
        "6w": "not_needed",
        "2w": "withdrawal",
    }


def test_the_ways_are_those_that_the_daily_sums_count() -> None:
    operation()
    for because in states.CLOSED_BY:
        change("24m", state="not_needed", ended_because=because)
        assert by_step()["24m"]["way"] == because
        assert because in WAYS


def test_a_review_says_what_its_step_asks_for_and_whether_a_film_came() -> None:
    done = operation()
    reading(done, 365, "9.4")
    reading(done, 183, "9.4", film={"view": "other"})
    found = by_step()
    assert found["12m"]["film_required"] is True
    assert found["12m"]["film_present"] is True
    assert found["12m"]["film_on"] == pd.Timestamp(OPERATED + 365 * DAY)
    assert (found["6m"]["film_required"], found["6m"]["film_present"]) == (True, False)
    assert found["2w"]["film_required"] is False
    step = ProtocolStep.objects.get(reviews=review_of("12m"))
    assert found["12m"]["scores_required"] == ",".join(sorted(step.scores))
    assert found["12m"]["motion_required"] is step.motion
    assert found["12m"]["horizon"] == "12m"
    assert 360 <= found["12m"]["offset_days"] <= 370


def test_a_film_before_the_window_does_not_count_for_it() -> None:
    done = operation()
    row = review_of("12m")
    reading(done, (row.opens_on - OPERATED).days - 1, "9.4")
    assert by_step()["12m"]["film_present"] is False
    reading(done, (row.closes_on - OPERATED).days, "9.4")
    assert by_step()["12m"]["film_present"] is True


def test_what_had_not_happened_by_an_earlier_cut_off_was_still_planned() -> None:
    operation()
    row = change("12m", state="attended", attended_on=OPERATED + 365 * DAY, complete=True)
    change("6m", state="lapsed")
    early = by_step(cutoff=OPERATED + 200 * DAY)
    assert (early["12m"]["way"], early["12m"]["complete"]) == ("open", False)
    assert early["12m"]["attended_on"] is pd.NaT
    assert early["6m"]["way"] == "open"
    assert early["12m"]["entered_on"] is pd.NaT
    late = by_step()
    assert (late["12m"]["way"], late["6m"]["way"]) == ("done_in_window", "lapsed")
    assert late["12m"]["entered_on"] == pd.Timestamp(row.changed_at.date())


def invite(step: str, **values: Any) -> None:
    row = review_of(step)
    given = {"made_at": NOW - 20 * DAY, "expires_at": NOW - 6 * DAY, **values}
    Invitation.objects.create(site=row.site, review=row, **given)


def test_what_came_of_each_invitation() -> None:
    operation()
    sent = {"sent_at": NOW - 20 * DAY}
    invite("2w", **sent, completed_at=NOW - 19 * DAY, opened_at=NOW - 19 * DAY)
    invite("6w", **sent, opened_at=NOW - 19 * DAY)
    invite("3m", **sent, reminder=2)
    invite("6m", **sent, expires_at=NOW + 6 * DAY)
    invite("12m")
    invite("24m", **sent, revoked_at=NOW - DAY, revoked_because="moved away")
    found = frames.build(None, TODAY).asked.set_index("step")
    assert found["outcome"].to_dict() == {
        "2w": "answered",
        "6w": "begun",
        "3m": "silent",
        "6m": "open",
        "12m": "waiting",
        "24m": "withdrawn",
    }
    assert found.loc["3m", "reminders"] == 2
    assert found.loc["2w", "answered_on"] == pd.Timestamp((NOW - 19 * DAY).date())
    early = frames.build(None, (NOW - 15 * DAY).date()).asked.set_index("step")
    assert early.loc["24m", "outcome"] == "open"
    assert frames.build(None, (NOW - 25 * DAY).date()).asked.empty


def test_reviews_and_invitations_are_read_for_the_cases_only() -> None:
    held()
    held()
    built = frames.build(None, TODAY)
    one = built.cases.iloc[:1]
    nothing = pd.DataFrame({"procedure_id": [], "on": [], "view": []}).astype(
        {"procedure_id": "int64", "on": "datetime64[ns]"}
    )
    mine = frame_reviews.reviews(one, nothing, TODAY)
    assert set(mine["procedure_id"]) == {one.index[0]}
    assert not mine["film_present"].any()
    assert frame_reviews.asked(mine, one, TODAY).empty
