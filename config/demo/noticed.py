"""An invented safety notice about plates of the invented service, with people in every state."""

from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count

from config.demo.staff import Staff
from registry.models import NoticeCarrier, Part, SafetyNotice
from registry.services import records, safety_notices

RECEIVED_DAYS, DUE_DAYS = 12, 18
BATCHES = 2
ADVICE = (
    "Invented for this demonstration. Plates of these batches may crack at the most lateral hole. "
    "Tell each patient; take a film of both shoulders if none was taken in the last six weeks; "
    "offer removal where the fracture has united."
)
NEAR_NOTE = "The sticker in the theatre's book says another batch."
# What was done about those found first, each with its days since the notice came in.
COURSES: tuple[tuple[tuple[str, int, str], ...], ...] = (
    (("reached", 2, "Rang; will come."), ("reviewed", 6, "Film: plate intact.")),
    (("reached", 3, "Letter answered."),),
    (("unreachable", 9, "Four tries by two means; the number is another's."),),
    (("reached", 4, ""), ("declined", 4, "Feels well, wants no film.")),
)


def notify(staff: Staff, *, now: datetime, today: date) -> SafetyNotice | None:
    """Enter a notice about the plates that a few people have; None where the service has no such.

    It lets a batch be read as having run into its serial, and one be lost, so that near matches and
    those who cannot be excluded are there to be seen.
    """
    lines = _lines()
    if not lines:
        return None
    with records.change(by=staff.coordinator, reason="invented demo data"):
        _misread(lines, staff, now)
        received = today - timedelta(days=RECEIVED_DAYS)
        notice = safety_notices.record_notice(
            values={
                "reference": "FSN-DEMO-1",
                "title": "Invented: plates of two batches may crack at the most lateral hole",
                "kind": "recall",
                "advice": ADVICE,
                "issued_on": received - timedelta(days=3),
                "received_on": received,
                "due_on": received + timedelta(days=DUE_DAYS),
                "owner": staff.people["quality"],
            },
            lines=lines,
            by=staff.coordinator,
            now=now,
        )
        _course(notice, received, staff, now)
    return notice


def _lines() -> list[dict[str, Any]]:
    """Return the commonest plate's commonest batches as lines of a notice."""
    plates = Part.objects.filter(implant_model__kind="plate").exclude(batch="").order_by()
    counted = plates.values("implant_model__catalogue_number", "batch").annotate(n=Count("pk"))
    rows = counted.order_by("-n", "batch")[:BATCHES]
    return [
        {"catalogue_number": row["implant_model__catalogue_number"], "batch_first": row["batch"]}
        for row in rows
    ]


def _misread(lines: list[dict[str, Any]], staff: Staff, now: datetime) -> None:
    """Let one part's batch run into its serial, as some scanners hand it on."""
    batch = lines[0]["batch_first"]
    row = Part.objects.filter(batch=batch, implant_model__kind="plate").latest("pk")
    values = {"batch": f"{batch}21SN0042"}
    records.save(row, values, by=staff.coordinator, now=now, expected_version=row.version)


def _course(notice: SafetyNotice, received: date, staff: Staff, now: datetime) -> None:
    rows = NoticeCarrier.objects.filter(notice=notice).select_related("notice").order_by("pk")
    open_rows = [row for row in rows if row.state == "to_reach"]
    # One is left to be reached where there are enough.
    for row, steps in zip(open_rows[1:], COURSES, strict=False):
        for step, days, note in steps:
            _take(row, step, received + timedelta(days=days), note, staff, now)
    decided = next((row for row in rows if row.sureness == "not_excluded"), None)
    if decided is not None:
        _take(decided, "is_none", received + timedelta(days=5), NEAR_NOTE, staff, now)


def _take(row: NoticeCarrier, step: str, on: date, note: str, staff: Staff, now: datetime) -> None:
    safety_notices.take_step(
        carrier=row,
        step=step,
        on=on,
        note=note,
        expected_version=row.version,
        by=staff.coordinator,
        now=now,
    )
