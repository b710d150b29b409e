"""Rows that are made in memory and written a batch at a time."""

from collections.abc import Iterator
from datetime import date, datetime, time
from typing import Any, TypeVar

from django.db.models import Model

from config.demo import bulk
from followup.models import (
    Appointment,
    Complication,
    ContactAttempt,
    Film,
    HardwareDecision,
    HardwareStep,
    MotionExam,
    Reading,
    ReadingFinding,
    Review,
    Score,
)
from registry.models import (
    Classification,
    Consent,
    Construct,
    ConstructDeparture,
    Injury,
    Part,
    Patient,
    PatientSite,
    Person,
    Procedure,
    Site,
)
from registry.models.base import ClinicalRow
from registry.models.identities import Identifier, Identity

Row = TypeVar("Row", bound=Model)
Fact = TypeVar("Fact", bound=ClinicalRow)

# Every row stands after the rows that it points to.
ORDER: tuple[type[Model], ...] = (
    Patient,
    Identity,
    Identifier,
    PatientSite,
    Consent,
    Injury,
    Classification,
    Procedure,
    Construct,
    ConstructDeparture,
    Part,
    Review,
    Appointment,
    ContactAttempt,
    Film,
    Reading,
    ReadingFinding,
    MotionExam,
    Score,
    Complication,
    HardwareDecision,
    HardwareStep,
)
NOON = time(12)


class Batch:
    """Collects rows, unsaved links among them included, and writes them in one go."""

    def __init__(self, now: datetime) -> None:
        self._now = now
        self._rows: dict[type[Model], list[Any]] = {model: [] for model in ORDER}
        self._keys: dict[type[Model], Iterator[Any]] = {}

    def add(self, row: Row) -> Row:
        """Keep a row until the batch is written; it has its key from now on."""
        model = type(row)
        if row.pk is None:
            if model not in self._keys:
                self._keys[model] = bulk.new_keys(model)
            row.pk = next(self._keys[model])
        self._rows[model].append(row)
        return row

    def fact(self, row: Fact, *, site: Site, by: Person, on: date) -> Fact:
        """Keep a clinical row that somebody recorded on a day."""
        bulk.link(row, "site", site)
        bulk.link(row, "recorded_by", by)
        bulk.link(row, "changed_by", by)
        row.recorded_at = row.changed_at = self.moment(on)
        return self.add(row)

    def moment(self, on: date) -> datetime:
        """Return the noon of a day, or now where that is earlier."""
        return min(self._now, datetime.combine(on, NOON, tzinfo=self._now.tzinfo))

    def write(self) -> int:
        """Write what was kept, and start anew; return how many rows were written."""
        written = 0
        for model in ORDER:
            rows = self._rows[model]
            if model is Procedure:
                # An operation that revises another is written after it.
                rows.sort(key=lambda row: row.revises_id is not None)
            bulk.insert(model, rows)
            written += len(rows)
            self._rows[model] = []
        return written
