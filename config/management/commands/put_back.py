import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from tqdm import tqdm

from config.copies import reading
from registry.errors import HoldfastError


class Command(BaseCommand):
    help = (
        "Put a copy that keep_copy made back into an empty database and its storages, and bring it up to "
        "this code: all of it, equal by hash, or nothing. Stop web, workers and scheduler first."
    )
    # Whatever is missing here comes with the copy.
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("source", type=Path, help="the copy, holdfast-....age")
        parser.add_argument("--key", type=Path, required=True, help="the file of the secret key")
        parser.add_argument(
            "--replace", action="store_true", help="throw away what the database holds now"
        )
        parser.add_argument("--check", action="store_true", help="check it, write nothing")

    def handle(self, *args: Any, **given: Any) -> None:
        warnings: tuple[str, ...] = ()
        with tqdm(unit=" steps", disable=not sys.stderr.isatty()) as bar:
            about = {
                "source": given["source"],
                "key": given["key"],
                "progress": lambda what, done: bar.update(done),
            }
            try:
                if given["check"]:
                    manifest = reading.check_copy(**about)
                else:
                    done = reading.put_back(**about, replace=given["replace"], now=timezone.now())
                    manifest, warnings = done.manifest, done.warnings
            except HoldfastError as fault:
                raise CommandError(str(fault)) from fault
            except OSError as fault:
                raise CommandError(
                    f"It could not be put back: {fault.strerror or fault}. All is as it was."
                ) from fault
        told = "is whole" if given["check"] else "is back, equal by hash"
        self.stdout.write(
            f"{given['source'].name} of {manifest.made_at} {told}: {manifest.rows} rows of "
            f"{len(manifest.tables)} tables, {manifest.files.size} files."
        )
        for warning in warnings:
            self.stdout.write(f"Note: {warning}")
