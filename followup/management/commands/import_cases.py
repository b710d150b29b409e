import json
import sys
from itertools import chain, count
from pathlib import Path
from typing import Any, BinaryIO

from django.core.files.base import File
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from tqdm import tqdm

from followup.services import import_by_command, imports
from followup.services.import_by_command import Given
from followup.services.import_plans import How
from followup.services.imports import ImportResult
from registry.errors import BadInput, HoldfastError
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import jobs
from registry.services.background import background_person

SHOWN = 20
LONGEST = 300


class Command(BaseCommand):
    help = (
        "Import a CSV or XLSX file of cases, one row for each index procedure. The file is imported "
        "whole or not at all, or with --keep-good its good rows, or with --in-parts its good rows part "
        "by part, as long files are; a row that is known already adds nothing. Ends with 1 where "
        "faults kept everything out."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--site", required=True, help="code of the site that the cases are of")
        parser.add_argument("--dry-run", action="store_true", help="say what would be done, only")
        parser.add_argument(
            "--keep-good",
            action="store_true",
            help="import the good rows and write the others to a file, each with its reason",
        )
        parser.add_argument(
            "--in-parts",
            action="store_true",
            help="land the good rows part by part, each part for good; for files that are long",
        )
        parser.add_argument(
            "--resume",
            action="store_true",
            help="go on with an import in parts of this very file, which was stopped or killed",
        )
        parser.add_argument(
            "--mapping",
            type=Path,
            help="JSON that says what the file's columns and words mean; else what the site remembers",
        )
        parser.add_argument(
            "--propose",
            action="store_true",
            help="print such a mapping, as it is proposed or remembered, and import nothing",
        )
        parser.add_argument("--encoding", default="", help="cp1252, mac_roman, ...; else found out")
        parser.add_argument("--separator", default="", help="what stands between values of a CSV")
        parser.add_argument(
            "--day-first", action="store_true", help="take 05.03.2026 for the fifth of March"
        )
        parser.add_argument("--by", default="", help="user name of whoever imports; else Holdfast")

    def handle(self, *args: Any, **given: Any) -> None:
        site, path = _site(given["site"]), given["file"]
        try:
            with path.open("rb") as source:
                asked = import_by_command.given(
                    source,
                    site,
                    mapping=_mapping(given["mapping"]),
                    encoding=given["encoding"],
                    separator=given["separator"],
                )
                if given["propose"]:
                    self.stdout.write(import_by_command.proposal(source, site, asked))
                elif given["in_parts"] or given["resume"]:
                    self._in_parts(source, site, asked, given)
                else:
                    self._report(self._run(source, site, asked, given), path, given)
        except OSError as fault:
            raise CommandError(f"{path} cannot be read: {fault.strerror}.") from fault
        except HoldfastError as fault:
            raise CommandError(f"{path}: {fault}") from fault

    def _run(
        self, source: BinaryIO, site: Site, asked: Given, given: dict[str, Any]
    ) -> ImportResult:
        with _Bars() as bars:
            how = How(
                timezone.localdate(),
                day_first=given["day_first"],
                progress=bars,
                written=asked.written,
                translation=asked.translation,
            )
            keep_good = given["keep_good"]
            if given["dry_run"]:
                return imports.check_cases(source=source, site=site, how=how, keep_good=keep_good)
            return imports.import_cases(
                source=source,
                site=site,
                how=how,
                keep_good=keep_good,
                file_name=given["file"].name,
                by=_person(given["by"]),
                now=timezone.now(),
            )

    def _in_parts(self, source: BinaryIO, site: Site, asked: Given, given: dict[str, Any]) -> None:
        path: Path = given["file"]
        by, now, today = _person(given["by"]), timezone.now(), timezone.localdate()
        if given["resume"]:
            draft = import_by_command.stopped(source, path.name, site)
        else:
            draft = import_by_command.brought(File(source), path.name, site, asked, by=by, now=now)
        with (
            tqdm(unit=" parts", disable=not sys.stderr.isatty()) as bar,
            jobs.heard_by(bar.update),
        ):
            done = import_by_command.taken_in(
                draft, dry_run=given["dry_run"], by=by, now=now, today=today
            )
        if done.rejected:
            target = _beside(path)
            with target.open("w", encoding="utf-8", newline="") as out:
                out.writelines(done.rejected)
            self.stdout.write(f"Rejected rows, with reasons: {target}")
        self.stdout.write(done.said)

    def _report(self, result: ImportResult, path: Path, given: dict[str, Any]) -> None:
        for note in result.notes:
            self.stderr.write(f"Note: {note}")
        for fault in result.faults[:SHOWN]:
            self.stderr.write(str(fault)[:LONGEST])
        if len(result.faults) > SHOWN:
            self.stderr.write(f"... and {len(result.faults) - SHOWN} more faults.")
        if result.rejected and given["keep_good"] and not given["dry_run"]:
            self.stdout.write(f"Rejected rows, with reasons: {_write_rejected(result, path)}")
        if result.refused:
            raise CommandError(_refusal(result, keep_good=given["keep_good"]))
        self.stdout.write(_summary(result, dry_run=given["dry_run"]))


class _Bars:
    """One progress bar for each part of the work."""

    def __init__(self) -> None:
        self._step = ""
        self._bar: Any = None

    def __enter__(self) -> "_Bars":
        return self

    def __exit__(self, *args: object) -> None:
        self._close()

    def __call__(self, step: str, done: int, total: int) -> None:
        if step != self._step:
            self._close()
            self._step = step
            self._bar = tqdm(total=total, desc=step, unit=" rows", disable=not sys.stderr.isatty())
        self._bar.update(1)

    def _close(self) -> None:
        if self._bar is not None:
            self._bar.close()


def _beside(path: Path) -> Path:
    """Return a name beside the file; what is there already may be somebody's work."""
    names = (f"{path.stem}-rejected{n}.csv" for n in chain([""], (f"-{n}" for n in count(2))))
    return next(path.with_name(name) for name in names if not path.with_name(name).exists())


def _write_rejected(result: ImportResult, path: Path) -> Path:
    target = _beside(path)
    with target.open("w", encoding="utf-8", newline="") as out:
        imports.write_rejected(out, result)
    return target


def _mapping(path: Path | None) -> Any:
    if path is None:
        return None
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except ValueError as fault:
        raise BadInput(f"--mapping: {path} is no JSON ({fault}).") from fault


def _refusal(result: ImportResult, *, keep_good: bool) -> str:
    if not result.rejected:
        return "Nothing was imported: the first row does not name the columns that are needed."
    said = (
        f"Nothing was imported: {len(result.rejected)} of {result.rows_read} rows cannot be used."
    )
    if result.known:
        said = f"{said[:-1]}, {len(result.known)} are known already."
    if keep_good or not result.usable:
        return f"{said} Correct them and try again."
    return f"{said} Correct them, or take the {result.usable} good rows with --keep-good."


def _summary(result: ImportResult, *, dry_run: bool) -> str:
    known, rejected = len(result.known), len(result.rejected)
    if dry_run:
        return (
            f"{result.rows_read} rows read: {result.usable} would be added, {known} known already, "
            f"{rejected} rejected. Nothing was written."
        )
    return (
        f"{result.rows_read} rows read: {result.added} added, {known} known already, "
        f"{rejected} rejected."
    )


def _site(code: str) -> Site:
    site = Site.objects.filter(code=code, is_active=True).first()
    if site is None:
        codes = Site.objects.filter(is_active=True).order_by("code").values_list("code", flat=True)
        raise CommandError(
            f"There is no site '{code}'. Known: {', '.join(codes) or 'none is set up yet'}."
        )
    return site


def _person(username: str) -> Person:
    if not username:
        return background_person()
    person = Person.objects.filter(username=username).first()
    if person is None:
        raise CommandError(f"--by: there is nobody with the user name '{username}'.")
    return person
