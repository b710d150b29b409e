"""Which rows an act moved or changed, kept so that it can be undone exactly: for merges and moves."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import QuerySet

from registry.errors import BadInput, IllegalTransition
from registry.models.base import ClinicalRow
from registry.models.merges import PatientMerge
from registry.models.moves import RecordMove
from registry.models.patients import Patient, PatientStatus
from registry.models.people import Person
from registry.services import records

# What counts and dates every change, and is not itself put back.
COUNTED = {"version", "changed_at", "changed_by"}
Images = dict[int, dict[str, Any]]


@dataclass(frozen=True)
class Act:
    """On whose behalf and when something is moved, and why."""

    by: Person
    now: datetime
    today: date
    reason: str = "move undone"

    @property
    def who(self) -> dict[str, Any]:
        """Return who, when and on which day, as services and notices take them."""
        return {"by": self.by, "now": self.now, "today": self.today}


@dataclass(frozen=True)
class Along:
    """What of an injury goes along with one of its operations.

    `rows` are keys by kind, as whoever keeps them names them, and `offered` is what they said could go
    when it was chosen: another answer by now is refused. `turned`: exams of motion change sides.
    """

    rows: Mapping[str, Iterable[int]]
    offered: str = ""
    turned: bool = False


class Watch:
    """What some rows are before an act; afterwards it says what became of them, by table.

    The querysets must find the same rows before and after: by keys that the act does not change.
    """

    def __init__(self, *rows: "QuerySet[Any]") -> None:
        """Look at the rows as they stand."""
        self.rows = rows
        self.before = [_images(one) for one in rows]

    def found(self) -> dict[str, dict[str, Any]]:
        """Return the values that are others now, as [was, is] by row and column, and the new rows."""
        told: dict[str, dict[str, Any]] = {}
        for rows, before in zip(self.rows, self.before, strict=True):
            after = _images(rows.all())
            changed = {
                str(key): differing
                for key in sorted(before.keys() & after.keys())
                if (differing := _differing(before[key], after[key]))
            }
            added = sorted(after.keys() - before.keys())
            if changed or added:
                told[rows.model._meta.db_table] = {"changed": changed, "added": added}
        return told


def put_back(
    models: Iterable[type[ClinicalRow]], found: Mapping[str, Any], *, by: Person, now: datetime
) -> None:
    """Give rows the values that they had before an act, and void what it added by itself.

    A value that is another by now than the act had left stands, as does a new row that was changed.
    """
    for model in models:
        theirs = found.get(model._meta.db_table)
        if theirs is None:
            continue
        # What lets go of something first, so that another row can have it back.
        for key, columns in sorted(theirs["changed"].items(), key=_lets_go):
            _put_back_one(model, int(key), columns, by, now)
        untouched = model.everything.filter(pk__in=theirs["added"], version=1)
        records.void_all(untouched, by=by, now=now, reason="the move that added it was undone")


def hand_on(rows: Iterable[Any], *, by: Person, now: datetime, **values: Any) -> list[int]:
    """Give clinical rows, voided ones too, new values by the version that is there; return their keys."""
    moved = []
    for row in rows:
        type(row).everything.filter(pk=row.pk).update(
            **values, version=row.version + 1, changed_at=now, changed_by=by
        )
        moved.append(row.pk)
    return moved


def mark_undone(act: PatientMerge | RecordMove, *, what: str, by: Person, now: datetime) -> None:
    """Note that a merge or move is undone, once whoever asks at the same time.

    Raises IllegalTransition when it is undone already.
    """
    standing = type(act).objects.filter(pk=act.pk, undone_at__isnull=True)
    if not standing.update(undone_at=now, undone_by=by):
        raise IllegalTransition(what, present="undone", wanted="undone")


def reason_of(reason: str) -> str:
    """Return why something is moved; raises BadInput where nobody says it."""
    if not reason.strip():
        raise BadInput({"reason": "Say how you know where this belongs."})
    return reason.strip()[:300]


def both_active(one: Patient, other: Patient) -> None:
    """Refuse patients who were merged into another, or whose follow-up has ended."""
    for patient in (one, other):
        if patient.merged_into_id is not None or patient.voided_at is not None:
            raise BadInput(
                f"{patient} is no patient of their own any more; open the one that was kept."
            )
        if patient.status != PatientStatus.ACTIVE:
            raise BadInput(
                f"The follow-up of {patient} has ended ({patient.get_status_display().lower()}); what "
                "that closed could not be given back. Set the state that is true, then move."
            )


def announce(notice: Any, sender: type[Any], *, act: Act, **about: Any) -> dict[str, Any]:
    """Send a notice and return the rows that its hearers moved, by table."""
    moved: dict[str, Any] = {}
    for _, theirs in notice.send(sender=sender, **about, **act.who):
        moved.update(theirs or {})
    return moved


def _images(rows: "QuerySet[Any]") -> Images:
    names = [f.attname for f in rows.model._meta.concrete_fields if f.name not in COUNTED]
    plain = json.dumps(list(rows.order_by("pk").values(*names)), cls=DjangoJSONEncoder)
    return {row[rows.model._meta.pk.attname]: row for row in json.loads(plain)}


def _differing(was: Mapping[str, Any], now: Mapping[str, Any]) -> dict[str, list[Any]]:
    return {name: [was[name], now[name]] for name in was if was[name] != now[name]}


def _lets_go(row: tuple[str, Mapping[str, list[Any]]]) -> tuple[bool, int]:
    return all(was is not None for was, _ in row[1].values()), int(row[0])


def _put_back_one(
    model: type[ClinicalRow],
    key: int,
    columns: Mapping[str, list[Any]],
    by: Person,
    now: datetime,
) -> None:
    rows = model.everything.filter(pk=key)
    present = _images(rows).get(key, {})
    fields = {field.attname: field for field in model._meta.concrete_fields}
    values = {
        name: fields[name].to_python(was)
        for name, (was, left) in columns.items()
        if present.get(name) == left
    }
    if values:
        hand_on(rows, by=by, now=now, **values)
