import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from tqdm import tqdm

from registry.errors import HoldfastError
from registry.exchange.archive import Manifest
from registry.services import archives


class Command(BaseCommand):
    help = (
        "Bring an archive that make_archive wrote back into an empty, migrated system: all of it, "
        "equal by hash, or nothing. With --check it is only held against its own hashes."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("source", type=Path, help="the archive")
        parser.add_argument("--check", action="store_true", help="check it, write nothing")

    def handle(self, *args: Any, **given: Any) -> None:
        with tqdm(unit=" rows", disable=not sys.stderr.isatty()) as bar:
            try:
                found = self._done(given, lambda _, done: bar.update(done) and None)
            except HoldfastError as fault:
                raise CommandError(str(fault)) from fault
        told = "is whole" if given["check"] else "is back, equal by hash"
        self.stdout.write(
            f"{given['source'].name} of {found.made_at} {told}: {found.rows} rows, "
            f"SHA-256 of its content {found.content_hash}."
        )
        if not given["check"]:
            self.stdout.write("Nobody has a password yet: run changepassword for whoever begins.")

    def _done(self, given: dict[str, Any], progress: Any) -> Manifest:
        if given["check"]:
            return archives.check_archive(source=given["source"], progress=progress)
        return archives.bring_back(source=given["source"], now=timezone.now(), progress=progress)
