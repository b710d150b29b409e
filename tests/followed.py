"""Operated patients with one of each finding, in any number."""

from copy import copy
from datetime import date
from typing import Any
from uuid import uuid4

import numpy as np
from django.db import connection

from followup.models import (
    Complication,
    Film,
    FilmImage,
    HardwareDecision,
    ImageCalibration,
    IncomingImage,
    MotionExam,
    Reading,
    Review,
    Score,
)
from followup.services import hardware, measuring, motion, scores
from registry.models import (
    CarrierStep,
    Classification,
    Construct,
    Injury,
    NoticeCarrier,
    Patient,
    PatientSite,
    Procedure,
    SafetyNotice,
)
from registry.models.identities import Identity
from registry.models.patients import new_key
from tests import builders, implanted
from tests.analytics.records import calls_its_own, complication, reading
from tests.world import GREYS, kept_image


def followed(number: int) -> None:
    """Save one operated patient with one of each finding."""
    calls_its_own()
    row = builders.procedure(performed_on=date(2026, 6, 5 + number))
    saved = reading(row, 20, "9.0")
    _pictured(saved.film, number)
    complication(row, 20)
    implanted.part(row, batch=f"followed-{number}")
    implanted.notice({"batch_first": f"followed-{number}"}, reference=f"followed {number}")
    at: dict[str, Any] = {"by": saved.reader, "now": builders.NOW, "today": builders.TODAY}
    exam = {"examined_on": date(2026, 7, 20), "side": "left", "mode": "active", "flexion_deg": 90}
    motion.record_motion(injury=row.injury, values=exam, **at)
    scores.record_score(
        injury=row.injury, instrument="sane", taken_on=date(2026, 7, 20), total=80, **at
    )
    hardware.raise_question(
        procedure=row,
        because="symptoms",
        by=saved.reader,
        now=builders.NOW,
        on=builders.TODAY,
    )


def _pictured(film: Film, number: int) -> None:
    """Save a picture of a film with its calibration, and one that waits; no two are the same."""
    by, greys = film.recorded_by, GREYS + np.uint8(number % 60)
    image = kept_image(FilmImage(film=film, site=film.site), greys, by)
    measuring.calibrate(image=image, how="none", by=by, now=builders.NOW)
    kept_image(IncomingImage(site=film.site), greys.T, by)


COPIED = (
    Patient,
    PatientSite,
    Identity,
    Injury,
    Classification,
    Procedure,
    Construct,
    Review,
    Film,
    FilmImage,
    ImageCalibration,
    IncomingImage,
    Reading,
    MotionExam,
    Score,
    Complication,
    HardwareDecision,
    SafetyNotice,
    NoticeCarrier,
    CarrierStep,
)
STEP = 1_000_000


def multiply(times: int) -> None:
    """Copy every row so often that there are so many times more, with the links between them."""
    originals = {model: list(model._base_manager.all()) for model in COPIED}
    for model, rows in originals.items():
        links = [field for field in model._meta.concrete_fields if field.related_model in COPIED]
        copies = []
        for lap in range(1, times):
            for row in rows:
                new = copy(row)
                new.pk = row.pk + lap * STEP
                for link in links:
                    if (there := getattr(row, link.attname)) is not None:
                        setattr(new, link.attname, there + lap * STEP)
                if model is Patient:
                    new.key = new_key()
                if model is SafetyNotice:
                    new.reference = f"{row.reference}, {lap}"
                if isinstance(new, FilmImage | IncomingImage):
                    new.stored_name, new.content_hash = uuid4().hex, uuid4().hex
                copies.append(new)
        model._base_manager.bulk_create(copies)
    # The planner does not know of rows that were just written, and would walk them one by one.
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
