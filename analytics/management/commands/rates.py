import csv
import json
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from analytics.answers.horizons import HORIZONS
from analytics.answers.outcomes import COLUMNS, to_rows
from analytics.endpoints.catalogue import endpoints
from analytics.models.snapshots import Snapshot
from analytics.selectors import outcomes as selector
from analytics.selectors.cohorts import GROUPS, refuse_foreign_site, rule_from
from analytics.services import snapshots
from registry.errors import BadInput
from registry.models.sites import Site


class Command(BaseCommand):
    help = (
        "Print rates of an endpoint at a horizon: the numbers of the Outcomes page, from its code."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--endpoint", default="loss_of_reduction", help=", ".join(endpoints()))
        parser.add_argument(
            "--definition",
            default="",
            help="a shipped definition; else the one that the sites chose, if they agree",
        )
        parser.add_argument("--horizon", default="12m", choices=list(HORIZONS))
        parser.add_argument("--by", default="construct_type", choices=list(GROUPS))
        parser.add_argument("--site", default="", help="code of one site")
        parser.add_argument(
            "--from", dest="start", default="", help="operated from, year-month-day"
        )
        parser.add_argument("--to", dest="end", default="", help="operated to, year-month-day")
        parser.add_argument("--cutoff", default="", help="data cut-off; today when left out")
        parser.add_argument("--format", default="table", choices=["table", "json", "csv"])

    def handle(self, *args: Any, **given: Any) -> None:
        address = {
            name: given[name] for name in ("endpoint", "definition", "horizon", "by", "site")
        }
        try:
            rule = rule_from({**address, "from": given["start"], "to": given["end"]})
            cutoff = date.fromisoformat(given["cutoff"]) if given["cutoff"] else None
        except BadInput as fault:
            raise CommandError(str(fault)) from fault
        except ValueError as fault:
            raise CommandError(f"--cutoff: {fault}; write year-month-day") from fault
        sites = list(Site.objects.filter(is_active=True))
        try:
            refuse_foreign_site(rule, sites)
        except BadInput as fault:
            raise CommandError(str(fault)) from fault
        snapshot = self._snapshot(cutoff)
        view = selector.given(rule, sites, snapshot, snapshots.frames_of(snapshot))
        if view.unchosen is not None:
            raise CommandError(f"--{view.unchosen}")
        rows = to_rows(selector.outcome_answer(view))
        made_from = selector.provenance(view)
        writer = {"json": self._json, "csv": self._csv, "table": self._table}[given["format"]]
        writer(rows, made_from)

    def _snapshot(self, cutoff: date | None) -> Snapshot:
        now, today = timezone.now(), timezone.localdate()
        if cutoff is None:
            return snapshots.current(now=now, today=today)
        if cutoff > today:
            raise CommandError(f"--cutoff: {cutoff} is in the future")
        return snapshots.as_of(now=now, cutoff=cutoff)

    def _json(self, rows: list[dict[str, Any]], made_from: dict[str, Any]) -> None:
        self.stdout.write(json.dumps({"made_from": made_from, "rows": rows}, indent=2))

    def _csv(self, rows: list[dict[str, Any]], made_from: dict[str, Any]) -> None:
        writer = csv.writer(self.stdout, lineterminator="\n")
        writer.writerow(COLUMNS)
        for row in rows:
            writer.writerow(["" if row[name] is None else row[name] for name in COLUMNS])

    def _table(self, rows: list[dict[str, Any]], made_from: dict[str, Any]) -> None:
        for name in ("cohort", "definition", "horizon", "cutoff", "primary"):
            self.stdout.write(f"{name}: {made_from[name]}")
        head = ("group", "operated", "eligible", "evaluable", "events", "rate (95%)", "bounds")
        lines = [head, *(_cells(row) for row in rows)]
        widths = [max(len(line[at]) for line in lines) for at in range(len(head))]
        for line in lines:
            self.stdout.write("  ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)))
        self.stdout.write(made_from["caution"])


def _cells(row: dict[str, Any]) -> tuple[str, ...]:
    def percent(name: str) -> str:
        return "-" if row[name] is None else f"{row[name] * 100:.1f}%"

    counts = tuple(str(row[name]) for name in ("operated", "eligible", "evaluable", "events"))
    rate = f"{percent('rate')} ({percent('rate_low')} to {percent('rate_high')})"
    return (row["group"], *counts, rate, f"{percent('bound_low')} to {percent('bound_high')}")
