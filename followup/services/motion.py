"""Range of motion."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from followup.models.motion import MotionExam
from followup.services import days
from registry.errors import BadInput
from registry.models.injuries import Injury
from registry.models.people import Person
from registry.services import records


def record_motion(
    *,
    injury: Injury,
    values: Mapping[str, Any],
    by: Person,
    now: datetime,
    today: date,
    expected_version: int | None = None,
) -> MotionExam:
    """Save the motion of one side on one day; examined again that day, it is corrected.

    `expected_version` is that of the exam that the user saw, 0 for none; left out, any may be
    corrected. Raises StaleVersion when another stands there, BadInput for a day in the future or
    before the injury.
    """
    exam = MotionExam(injury=injury, site=injury.site, **values)
    if exam.examined_on > today:
        raise BadInput({"examined_on": f"{exam.examined_on} is in the future."})
    if exam.examined_on < injury.injured_earliest:
        raise BadInput({"examined_on": f"{exam.examined_on} is before the injury."})
    days.refuse_after_death(injury, exam.examined_on, "examined_on")
    wanted = (exam.examined_on, exam.side, exam.mode)
    exams = records.under(MotionExam, injury=injury)
    earlier = next((one for one in exams if (one.examined_on, one.side, one.mode) == wanted), None)
    if earlier is None:
        return records.create(exam, by=by, now=now)
    return records.save(
        earlier,
        dict(values),
        by=by,
        now=now,
        expected_version=earlier.version if expected_version is None else expected_version,
        reason="examined again",
    )
