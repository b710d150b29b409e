"""What of charts, signals and alerts builds on some cases, so that the cases cannot be taken away."""

from collections.abc import Iterator
from itertools import islice
from typing import Any

from analytics.models.alerts import AlertStepKind, LossAlertStep
from analytics.models.monitoring import ChartCase
from analytics.models.signals import Signal


def told(procedures: Any, most: int) -> list[str]:
    """Say in words, a sentence each and at most so many, what builds on index procedures.

    `procedures` are their keys, or a question for them. A chart keeps the place and value of a case
    whatever becomes of it, so that it would go on counting what was taken away; an alert that waits
    for its answer is taken back with its case and builds nothing.
    """
    return list(islice(_sentences(procedures, most), most))


def _sentences(procedures: Any, most: int) -> Iterator[str]:
    cases = ChartCase.objects.filter(case_id__in=procedures).select_related("design__site")
    counted = list(cases.order_by("design_id", "position")[:most])
    raised = {
        (one.design_id, one.position): one
        for one in Signal.objects.filter(design__in={case.design_id for case in counted})
    }
    for case in counted:
        signal = raised.get((case.design_id, case.position))
        said = "" if signal is None else f", and a signal was raised at it on {_day(signal)}"
        yield f"The chart '{case.design}' counts a case of it at place {case.position + 1}{said}."
    answered = LossAlertStep.objects.filter(
        alert__procedure__in=procedures, kind=AlertStepKind.PLANNED
    ).select_related("alert__procedure__injury__patient", "by")
    for step in answered.order_by("pk")[:most]:
        key = step.alert.procedure.injury.patient.key
        level = step.alert.get_level_display().lower()
        yield f"Patient {key}: the alert '{level}' was answered on {step.at:%d %b %Y} by {step.by}."


def _day(signal: Signal) -> str:
    return f"{signal.raised_at:%d %b %Y}"
