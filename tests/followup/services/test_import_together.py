"""Rows that land together leave what they leave one by one: every row, column and entry of the trail."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Any

import pytest
from django.apps import apps
from django.db import connection, models, transaction

from followup.models.readings import ReadingPolicy
from followup.services import import_checks, imported_cases, imports, reviews
from followup.services.imports import save_row
from registry.errors import BadInput
from registry.models import AuditEntry, ImportRow
from registry.services import enrolment
from tests import builders, trailed
from tests.followup.case_files import case
from tests.followup.sent_files import landed, sent_ours
from tests.followup.services.test_imported_cases import FULL

pytestmark = pytest.mark.usefixtures("defaults")
TWICE = {"family_name": "Quill", "given_name": "Ada", "birth_date": "1970-05-06"}


def rows() -> list[dict[str, str]]:
    """Return a list that has everything in it: all columns, ends, two sides, one person twice."""
    return [
        case(1),
        FULL,
        case(2, died_on="2025-08-01", baseline_film_date="2025-02-08", f6w_date="2025-03-20"),
        case(3, removal_date="2025-07-08", removal_planned="yes", f12m_date="2026-02-04"),
        case(4, side="left"),
        case(4, side="right", procedure_date="2025-03-06"),
        case(5, **TWICE),
        case(6, **TWICE, side="right"),
        case(7, complication_1_kind="infection_deep", complication_1_date="2025-03-01"),
        case(8, injury_date="2025-02-30"),
        case(9, f6w_date="2025-03-20", f6w_quickdash="12.5", f6w_flexion_deg="110"),
    ]


TIMES = ("started_at", "ended_at", "brought_at", "marked_at", "at", "held_until")
LEFT_OUT = {"AuditEntry", "ChainHead", "Session", "LogEntry", "ImportDraft"}


class _Places:
    """The place of a row in its table, in the stead of its number."""

    def __init__(self) -> None:
        self.of = {
            model: {pk: place for place, pk in enumerate(_keys(model))}
            for model in apps.get_models()
        }

    def plain(self, field: "models.Field[Any, Any]", value: Any) -> Any:
        if field.name == "key" or isinstance(value, datetime) or field.name in TIMES:
            return "..."
        if field.is_relation and value is not None and field.related_model is not None:
            target: Any = field.related_model
            return self.of[target].get(value, "none")
        return self.of[field.model].get(value, "none") if field.primary_key else value


def _keys(model: type[models.Model]) -> Sequence[Any]:
    return list(model._base_manager.order_by("pk").values_list("pk", flat=True))


def everything() -> dict[str, list[Any]]:
    """Return every row of every table, and of the trail by table, with places for numbers."""
    places, found = _Places(), dict[str, list[Any]]()
    for model in apps.get_models():
        if model.__name__ in LEFT_OUT:
            continue
        fields = [one for one in model._meta.concrete_fields if hasattr(one, "attname")]
        found[model._meta.label] = [
            {one.name: places.plain(one, getattr(row, one.attname)) for one in fields}
            for row in model._base_manager.order_by("pk")
        ]
        told = AuditEntry.objects.filter(table=model._meta.db_table).order_by("id")
        columns = {one.column: one for one in fields}
        found[f"trail of {model._meta.label}"] = sorted(
            (
                entry.action,
                str(entry.person_id),
                entry.reason,
                *(
                    sorted(
                        (name, str(places.plain(columns[name], _time_away(name, value))))
                        for name, value in (side or {}).items()
                    )
                    for side in (entry.before, entry.after)
                ),
            )
            for entry in told
        )
    return found


def _time_away(name: str, value: Any) -> Any:
    return "" if name.endswith(("_at", "_joined")) else value


@pytest.fixture
def one_by_one(monkeypatch: pytest.MonkeyPatch) -> Iterator[pytest.MonkeyPatch]:
    """Save row by row, as the pages do."""
    with monkeypatch.context() as patch:
        patch.setattr(
            imports, "save_rows", lambda rows, *given: [save_row(one, *given) for one in rows]
        )
        patch.setattr(
            imports, "lapse", lambda keys, given: reviews.lapse_closed(**given.act, injuries=keys)
        )
        yield patch


@contextmanager
def numbers_given_again() -> Iterator[None]:
    """Number the rows afterwards as before: PostgreSQL keeps a number that an undone row had."""
    if connection.vendor != "postgresql":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT sequencename FROM pg_sequences WHERE schemaname = 'public'")
        before = {}
        for (name,) in cursor.fetchall():
            cursor.execute(f'SELECT last_value, is_called FROM "{name}"')
            before[name] = cursor.fetchone()
    yield
    with connection.cursor() as cursor:
        for name, state in before.items():
            cursor.execute("SELECT setval(%s::regclass, %s, %s)", [f'"{name}"', *state])


def both_ways(one_by_one: pytest.MonkeyPatch, *cases: dict[str, str]) -> tuple[Any, Any]:
    """Land a list row by row, undo that, and land it together."""
    with numbers_given_again(), transaction.atomic():
        landed(sent_ours(*cases))
        slowly = everything()
        transaction.set_rollback(True)
    one_by_one.undo()
    landed(sent_ours(*cases))
    return slowly, everything()


def same(slowly: dict[str, list[Any]], together: dict[str, list[Any]]) -> None:
    for name, found in slowly.items():
        assert len(together[name]) == len(found), name
        for one, other in zip(found, together[name], strict=True):
            assert one == other, name


@pytest.mark.parametrize("draw", ["none", "all"])
def test_a_list_leaves_the_same_rows_and_trail_both_ways(
    one_by_one: pytest.MonkeyPatch, draw: str
) -> None:
    builders.person("selma", north="surgeon")
    if draw == "all":
        ReadingPolicy.objects.create(site=builders.site(), draw=draw, share_pct=100)
    slowly, together = both_ways(one_by_one, *rows())
    assert len(slowly["registry.Procedure"]) > len(rows())
    assert {"followup.HardwareDecision", "followup.Reading", "followup.Complication"} <= {
        name for name, found in slowly.items() if found
    }
    same(slowly, together)
    assert trailed.holds()


def test_a_row_that_a_service_refuses_lands_nothing_and_those_around_it_land(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    refusing(monkeypatch)
    draft = sent_ours(*(case(n) for n in range(1, 8)))
    landed(draft)
    fates = dict(ImportRow.objects.order_by("line").values_list("line", "fate"))
    assert [line for line, fate in fates.items() if fate == "refused"] == [5]
    assert list(fates.values()).count("landed") == 6
    assert "not on a Tuesday" in ImportRow.objects.get(line=5).reason
    assert trailed.holds()


def test_what_the_database_refuses_at_the_writing_is_found_and_the_rest_lands(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    clashing(monkeypatch)
    landed(sent_ours(*(case(n) for n in range(1, 8))))
    fates = dict(ImportRow.objects.order_by("line").values_list("line", "fate"))
    assert [line for line, fate in fates.items() if fate == "refused"] == [6]


def refusing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the service refuse the operation of the fourth patient."""
    record = enrolment.record_procedure

    def refuses(**given: Any) -> Any:
        if given["injury"].patient.identity.family_name.endswith("e"):
            raise BadInput({"performed_on": "not on a Tuesday"})
        return record(**given)

    monkeypatch.setattr(imported_cases.enrolment, "record_procedure", refuses)


def clashing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the fifth patient get the number of the fourth."""
    enrol = enrolment.enrol_patient

    def clashes(**given: Any) -> Any:
        if given["identity"]["family_name"].endswith("f"):
            given["identifiers"] = [enrolment.IdentifierGiven(enrolment.HOSPITAL_NUMBER, "000004")]
        return enrol(**given)

    monkeypatch.setattr(imported_cases.enrolment, "enrol_patient", clashes)


def test_queries_do_not_grow_with_the_rows(django_assert_max_num_queries: Any) -> None:
    draft = sent_ours(*(case(n, f6w_date="2025-03-20", f6w_pain="3") for n in range(1, 81)))
    assert import_checks.CHUNK >= 80
    with django_assert_max_num_queries(200):
        landed(draft)
