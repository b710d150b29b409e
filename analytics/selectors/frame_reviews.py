"""Planned reviews and how each ended, and who was asked at home, as frames."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np
import pandas as pd

from analytics.selectors.frame_rows import (
    DAY,
    FLAG,
    INSTANT,
    TEXT,
    WHOLE,
    table,
    until_choice,
    until_of,
)
from analytics.selectors.frame_windows import holding
from followup.models import Invitation, Review
from followup.models.protocols import ProtocolStep
from followup.models.reviews import OPEN_STATES, EndedBecause, ReviewState
from followup.rules.windows import add_offset

REVIEWS = {
    "review_id": ("id", WHOLE),
    "procedure_id": ("procedure_id", WHOLE),
    "step_id": ("step_id", WHOLE),
    "state": ("state", TEXT),
    "because": ("ended_because", TEXT),
    "complete": ("complete", FLAG),
    "opens_on": ("opens_on", DAY),
    "due_on": ("due_on", DAY),
    "closes_on": ("closes_on", DAY),
    "attended_on": ("attended_on", DAY),
    "entered_on": ("changed_at", INSTANT),
    "missed_count": ("missed_count", WHOLE),
}
# Where an offset is counted from, to tell the steps' distance in days.
SOME_DAY = date(2001, 1, 1)
INVITATIONS = {
    "invitation_id": ("id", WHOLE),
    "review_id": ("review_id", WHOLE),
    "made_on": ("made_at", INSTANT),
    "asked_on": ("sent_at", INSTANT),
    "expires_on": ("expires_at", INSTANT),
    "opened_on": ("opened_at", INSTANT),
    "answered_on": ("completed_at", INSTANT),
    "revoked_on": ("revoked_at", INSTANT),
    "reminders": ("reminder", WHOLE),
}


def reviews(cases: pd.DataFrame, films: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    """Read the reviews that follow the index procedures, with how each ended: two queries.

    `way` is done_in_window, done_outside, missed, lapsed, not_needed, open, or what closed a review
    (death, withdrawal, moved, revision, removal, protocol): one of them for each review.
    entered_on is the day of the last change of the review, after which nothing was entered in it.
    film_required, motion_required and scores_required say what its step asks for; film_present,
    film_on whether and when a film of a wanted view was taken in its window or at its visit.
    """
    steps = _steps()
    frame = table(Review.objects.order_by("id"), REVIEWS)
    frame = frame.loc[frame["procedure_id"].isin(cases.index)].reset_index(drop=True)
    frame = _as_chosen(_as_known(frame, cutoff), cases, cutoff).join(
        steps.drop(columns="views"), on="step_id"
    )
    frame["way"] = pd.array(_way(frame), dtype="str")
    frame = _with_films(frame, films, steps["views"])
    return frame.drop(columns="step_id")


def _steps() -> pd.DataFrame:
    """Return the steps of all protocols by their key; they are few."""
    rows = ProtocolStep.objects.select_related("version__protocol").order_by("id")
    found = [_step(step) for step in rows]
    columns = list(_step(ProtocolStep())) if not found else None
    return pd.DataFrame(found, columns=columns).set_index("step_id")


def _step(step: ProtocolStep) -> dict[str, Any]:
    version = step.version if step.version_id else None
    given = step.offset_value is not None and step.offset_unit
    day = add_offset(SOME_DAY, step.offset_value, step.offset_unit) if given else SOME_DAY
    return {
        "step_id": step.pk,
        "step": step.code,
        "horizon": step.horizon,
        "offset_days": (day - SOME_DAY).days,
        "protocol": str(version.protocol) if version else "",
        "protocol_version": version.number if version else 0,
        "film_required": bool(step.film_views),
        "motion_required": step.motion,
        "scores_required": ",".join(sorted(step.scores)),
        "views": frozenset(step.film_views),
    }


def _as_known(frame: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    """Leave out what had not happened by an earlier cut-off: such a review was still planned."""
    end = pd.Timestamp(cutoff)
    came = frame["attended_on"] > end
    early = (frame["state"] == ReviewState.MISSED) & (frame["opens_on"] > end)
    early |= (frame["state"] == ReviewState.LAPSED) & (frame["closes_on"] >= end)
    frame.loc[came | early, "state"] = ReviewState.PLANNED.value
    frame.loc[came, "attended_on"] = pd.NaT
    frame.loc[came | early, "complete"] = False
    frame.loc[frame["entered_on"] > end, "entered_on"] = pd.NaT
    return frame


def _as_chosen(frame: pd.DataFrame, cases: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    """Close by withdrawal what was still open on the day from which on a patient opted out."""
    until = until_of(frame, cases)
    until = until.where(until <= pd.Timestamp(cutoff))
    state = frame["state"]
    late = (state == ReviewState.ATTENDED) & (frame["attended_on"] > until)
    late |= (state == ReviewState.LAPSED) & (frame["closes_on"] >= until)
    late |= (state == ReviewState.MISSED) & (frame["opens_on"] > until)
    late |= state.isin([str(one) for one in OPEN_STATES]) & until.notna()
    frame.loc[late, "state"] = ReviewState.NOT_NEEDED.value
    frame.loc[late, "because"] = EndedBecause.WITHDRAWAL.value
    frame.loc[late, "attended_on"] = pd.NaT
    frame.loc[late, "complete"] = False
    frame.loc[frame["entered_on"] > until, "entered_on"] = pd.NaT
    return frame


def _way(frame: pd.DataFrame) -> Any:
    state, because = frame["state"], frame["because"]
    inside = (frame["attended_on"] >= frame["opens_on"]) & (
        frame["attended_on"] <= frame["closes_on"]
    )
    attended = state == ReviewState.ATTENDED
    chosen = because == EndedBecause.CHOSEN
    return np.select(
        [
            attended & inside,
            attended,
            state.isin([str(one) for one in OPEN_STATES]),
            (state == ReviewState.NOT_NEEDED) & ~chosen,
        ],
        ["done_in_window", "done_outside", "open", because.to_numpy(dtype=object)],
        default=state.to_numpy(dtype=object),
    )


def _with_films(frame: pd.DataFrame, films: pd.DataFrame, views: Any) -> pd.DataFrame:
    row, review = holding(films, frame)
    pairs = pd.DataFrame(
        {
            "review": review,
            "on": films["on"].to_numpy()[row],
            "step_id": frame["step_id"].to_numpy()[review],
            "view": films["view"].to_numpy(dtype=object)[row],
        }
    )
    listed = [(step, view) for step, wanted in views.items() for view in sorted(wanted)]
    wanted = pd.DataFrame(listed, columns=["step_id", "view"]).astype(
        {"step_id": "int64", "view": object}
    )
    first = pairs.merge(wanted, on=["step_id", "view"]).groupby("review")["on"].min()
    frame["film_on"] = first.reindex(range(len(frame))).to_numpy(dtype="datetime64[ns]")
    frame["film_present"] = frame["film_on"].notna()
    return frame


def asked(reviews: pd.DataFrame, cases: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    """Read who was asked at home about which review, and what came of it: one query.

    `outcome` is answered, begun (the time ran out in the middle), silent, open (it can still be
    answered), waiting (no link was handed out) or withdrawn.
    """
    night = datetime.combine(cutoff + timedelta(days=1), time(), tzinfo=UTC)
    rows = Invitation.objects.filter(made_at__lt=night).order_by("made_at", "id")
    frame = table(rows, INVITATIONS)
    columns = ["review_id", "procedure_id", "step", "horizon", "due_on", "scores_required"]
    frame = frame.merge(reviews[columns], on="review_id", validate="many_to_one")
    frame = until_choice(frame, cases, "made_on")
    until = until_of(frame, cases)
    end = pd.Timestamp(cutoff)
    for name in ("asked_on", "opened_on", "answered_on", "revoked_on"):
        frame.loc[(frame[name] > end) | (frame[name] > until), name] = pd.NaT
    frame["outcome"] = pd.array(
        np.select(
            [
                frame["revoked_on"].notna(),
                frame["answered_on"].notna(),
                frame["asked_on"].isna(),
                frame["expires_on"] > end,
                frame["opened_on"].notna(),
            ],
            ["withdrawn", "answered", "waiting", "open", "begun"],
            default="silent",
        ),
        dtype="str",
    )
    return frame.drop(columns="revoked_on")
