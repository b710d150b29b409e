"""Every page and every resource costs the same number of queries at 10 and at 1,000 rows.

`pytest -rP tests/test_query_counts.py -k dozen` prints the numbers.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest
import time_machine
from django.core.cache import cache
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from registry.models import Person
from registry.views.sought import KEPT
from tests import builders, many, world
from tests.scene import Scene
from tests.test_access import DOORS, urls
from tests.test_api_access import RESOURCES, url

# The costs are asked for once for all tests; the mark makes the database be there for this file alone.
pytestmark = pytest.mark.django_db

FEW, MANY = 10, 1000
PAGES = [name for name, door in DOORS.items() if door.opens]
READ = [name for name, one in RESOURCES.items() if "get" in one.needs]
# What else may be asked of a list in its address.
ALSO = {
    "patients": ("?found=alike", "?found=copy", "?page=2"),
    "due": ("?show=late", "?show=unbooked", "?week=2026-11-23", "?page=2"),
    "tasks": ("?kind=contact", "?page=2"),
    "clinic": ("?who=all",),
    "load": ("&clinic=all", "&page=2"),
    "messages": ("?show=all", "?page=2"),
    "replies": ("?show=all", "?page=2"),
    "emergencies": ("?page=2",),
    "retention": ("?show=held", "?show=held&page=2"),
    "setup-retention": ("?page=2",),
    "moves": ("?page=2",),
    "hospital": ("?show=all", "?show=taken", "?page=2"),
    "hospital-message": ("?found=alike",),
    "films": ("?show=others", "?show=second", "?show=third", "?show=second&page=2"),
    "films-lost": ("?whose=site", "?page=2"),
    "hardware": ("?resting=yes", "?page=2"),
    "outcomes": (
        "?endpoint=union&horizon=6w",
        "?by=surgeon",
        "?by=site",
        "?show=timing",
        "?endpoint=nonunion_6m",
    ),
    "compare": ("?by=site&adjust=sex&adjust=age_years",),
    "harms": ("?harm=nerve",),
    "following": ("?endpoint=union&horizon=6w&target=15", "?by=site"),
    "following-cases": ("?horizon=3m&which=eligible", "?horizon=6w&which=lost"),
    "function": ("?measure=internal_rotation&by=site", "?measure=quickdash&horizon=6w"),
    "function-cases": ("?horizon=3m&which=3m:missing",),
    "enough": ("?by=site", "?rate_one=5&year_one=20"),
    "signals": ("?watched=reoperation", "?watched=infection&site=north", "?page=2"),
    "signals-history": ("?page=2",),
    "signals-chart": ("?page=2",),
    "trace": ("?batch=B-1", "?batch=B-1&page=2", "?batch=B-1&show=near", "?words=plate"),
    "trace-notices": ("?page=2",),
    "trace-notice": ("?page=2", "?state=to_reach"),
    "outcomes-cases": ("?horizon=3m&which=eligible", "?horizon=3m&which=not_evaluable&page=2"),
}


def paged(context: Any) -> int:
    return int(context["page"].paginator.count)


def listed(name: str) -> Callable[[Any], int]:
    return lambda context: len(context[name])


# What looks into every table that may hang on a row, once each, before it is moved.
WALKING = {"injury-move", "injury-side", "operation-move-to", "operation-move-new"}
# How many rows stand behind a list: the proof that there was something to count.
BEHIND: dict[str, Callable[[Any], int]] = {
    "patients": paged,
    "patient": lambda context: len(context["courses"][0].entries),
    "patient-history": paged,
    "duplicates": paged,
    "due": paged,
    "tasks": paged,
    "clinic": paged,
    "messages": paged,
    "message": listed("steps"),
    "replies": paged,
    "emergencies": paged,
    "load": paged,
    "load-week": paged,
    "load-proposal": paged,
    "films": paged,
    "films-lost": paged,
    "films-lost-one": listed("steps"),
    "hardware": paged,
    "outcomes-cases": paged,
    "following-cases": paged,
    "meetings": paged,
    "packs": paged,
    "research": paged,
    "research-one": paged,
    "meeting": lambda context: len(context["decisions"]),
    "signals": paged,
    "signals-history": paged,
    "signals-chart": paged,
    "signals-one": listed("steps"),
    "trace-notices": paged,
    "trace-notice": paged,
    "trace-notice-evidence": paged,
    "setup-people": paged,
    "setup-retention": paged,
    "calendars": paged,
    "setup-calendars": paged,
    "setup-sites": listed("sites"),
    "setup-construct-types": listed("types"),
}


# Figures, the cases behind them and the films to be read know patients by key; Setup knows none.
WITHOUT_NAMES = [
    name
    for name in (*PAGES, *READ)
    if name.startswith(
        (
            "outcomes",
            "agreement",
            "compare",
            "harms",
            "enough",
            "following",
            "function",
            "meeting",
            "decision",
            "pack",
            "research",
            "literature",
            "signals",
            "responses",
            "films",
            "image",
            "setup",
            "trace-grades",
            "trace-notices",
            "trace-notice-add",
            "v1:api-rates",
            "v1:api-film",
        )
    )
]


@dataclass(frozen=True)
class Cost:
    """What one look at an address took, and how many rows stood behind it where that is known."""

    status: int
    statements: tuple[str, ...]
    rows: int | None


Costs = dict[str, dict[str, dict[int, Cost]]]


def asked(scene: Scene) -> Iterator[tuple[str, str]]:
    """Yield every address of the first site that shows something, with its name."""
    for name in PAGES:
        for address in urls(scene, name, "north"):
            yield name, address
            for more in ALSO.get(name, ()):
                yield name, address + more
    for name in READ:
        long = "?page_size=200" if name.endswith("-list") else ""
        yield name, url(scene, name, "north") + long


@pytest.fixture(scope="module")
def costs(django_db_setup: None, django_db_blocker: Any) -> Costs:
    """Give the cost of every address at both sizes, by name and address."""
    with (
        django_db_blocker.unblock(),
        time_machine.travel(builders.NOW, tick=False),
        transaction.atomic(),
    ):
        builders.load_defaults()
        scene = Scene({"north": world.one_of_each("north")}, {}, {}, {})
        found: Costs = {}
        have = 1
        for size in (FEW, MANY):
            many.grow(scene.things["north"], have, size)
            have = size
            for name, address in asked(scene):
                found.setdefault(name, {}).setdefault(address, {})[size] = _cost(name, address)
        transaction.set_rollback(True)
    return found


def _cost(name: str, address: str) -> Cost:
    client = Client()
    client.force_login(Person.objects.get(username="north_everything"))
    session = client.session
    session[KEPT] = {"alike": "alike", "copy": "copy"}
    session.save()
    cache.clear()
    read = (
        "outcomes",
        "agreement",
        "compare",
        "harms",
        "enough",
        "following",
        "function",
        "literature",
        "signals",
    )
    if name.startswith(read):
        # The first look after a change takes the snapshot that the next ones read.
        client.get(address)
    with CaptureQueriesContext(connection) as queries:
        answer = client.get(address)
    behind = BEHIND.get(name)
    return Cost(
        answer.status_code,
        tuple(query["sql"] for query in queries),
        behind(answer.context) if behind else None,
    )


@pytest.mark.parametrize("name", [*PAGES, *READ])
def test_an_address_costs_the_same_for_few_rows_and_for_many(costs: Costs, name: str) -> None:
    for address, cost in costs[name].items():
        few, many_rows = cost[FEW], cost[MANY]
        assert (few.status, many_rows.status) == (200, 200), address
        more = [sql[:300] for sql in many_rows.statements if sql not in few.statements]
        assert len(few.statements) == len(many_rows.statements), "\n".join([address, *more])


@pytest.mark.parametrize("name", BEHIND)
def test_there_were_few_rows_and_then_many(costs: Costs, name: str) -> None:
    address, cost = next(iter(costs[name].items()))
    few, many_rows = cost[FEW].rows, cost[MANY].rows
    assert few is not None
    assert many_rows is not None
    # Of pairs of patients there is one less than of patients.
    assert few >= FEW - 1, address
    assert many_rows >= MANY - 1, address


@pytest.mark.parametrize("name", WITHOUT_NAMES)
def test_where_nobody_is_shown_no_name_is_read(costs: Costs, name: str) -> None:
    read = [
        sql[:300]
        for cost in costs[name].values()
        for sql in cost[MANY].statements
        if "registry_identity" in sql or "registry_identifier" in sql
    ]
    assert read == []


def test_nothing_needs_more_than_a_few_dozen_queries(costs: Costs) -> None:
    dear = []
    for name, addresses in costs.items():
        for address, cost in addresses.items():
            question = "?" + address.split("?", 1)[1] if "?" in address else ""
            rows = f", {cost[FEW].rows} and {cost[MANY].rows} rows" if name in BEHIND else ""
            queries = len(cost[MANY].statements)
            print(f"{name} {question}: {queries} queries{rows}")  # noqa: T201 - to be quoted
            if queries > (80 if name in WALKING else 35):
                dear.append(address)
    assert dear == []
