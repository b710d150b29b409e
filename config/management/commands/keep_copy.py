import sys
from argparse import ArgumentTypeError
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError, CommandParser
from django.utils import timezone
from tqdm import tqdm

from config.copies import reading, sealing, shelf, writing
from config.tasks.copies import keep
from registry.errors import HoldfastError
from registry.management.job_command import JobCommand
from registry.models.jobs import JobOutcome
from registry.services import jobs


class Command(JobCommand):
    help = (
        "Keep a copy of everything - database and files - in one encrypted file, which only the secret "
        "key opens. Ends with 1 where there is no copy, with 2 where files that rows name are missing."
    )
    task = keep

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--to", type=Path, help="the folder (HOLDFAST_COPIES_DIR)")
        parser.add_argument(
            "--for",
            dest="recipients",
            action="append",
            help="a public key, age1... (HOLDFAST_COPIES_FOR)",
        )
        parser.add_argument(
            "--keep",
            type=_from_one,
            help="how many of the newest stay (HOLDFAST_COPIES_KEPT)",
            default=settings.COPIES_KEPT,
        )
        parser.add_argument(
            "--verify-with", type=Path, help="open it again with this secret key and check it all"
        )
        parser.add_argument(
            "--new-key", type=Path, help="write a new secret key into this file, and copy nothing"
        )

    def handle(self, *args: Any, **given: Any) -> None:
        try:
            if given["new_key"]:
                self.stdout.write(sealing.new_key(given["new_key"]))
                return
            kept = self._kept(given)
            self._told(kept)
            if given["verify_with"]:
                with self._bar() as bar:
                    reading.check_copy(
                        source=kept.file,
                        key=given["verify_with"],
                        progress=lambda what, done: bar.update(done),
                    )
                self.stdout.write("It was opened with the key, and is whole.")
        except HoldfastError as fault:
            raise CommandError(str(fault)) from fault
        if kept.manifest.missing:
            told = ", ".join(kept.manifest.missing[:5])
            raise CommandError(
                f"The copy is there, and {len(kept.manifest.missing)} files that rows name are not: {told}",
                returncode=2,
            )

    def _kept(self, given: dict[str, Any]) -> shelf.Kept:
        folder = given["to"] or settings.COPIES_DIR
        if not folder:
            raise CommandError("Say where: --to FOLDER, or set HOLDFAST_COPIES_DIR.")
        kept: list[shelf.Kept] = []
        now = timezone.now()
        with self._bar() as bar:

            def work() -> dict[str, int]:
                made = writing.keep_copy(
                    folder=Path(folder),
                    recipients=given["recipients"] or settings.COPIES_FOR,
                    now=now,
                    keep=given["keep"],
                    progress=lambda what, done: bar.update(done),
                )
                kept.append(made)
                return writing.counted(made)

            done = jobs.run_job("keep_copy", work, now=now, lease=keep.run.lease)
        if done.outcome == JobOutcome.BUSY:
            raise CommandError("Another copy is being made at this moment.")
        if not kept:
            raise CommandError(done.fault)
        return kept[0]

    def _told(self, kept: shelf.Kept) -> None:
        manifest = kept.manifest
        self.stdout.write(
            f"{kept.file}: {manifest.rows} rows of {len(manifest.tables)} tables and "
            f"{manifest.files.size} files, {kept.cipher.size} bytes, SHA-256 {kept.cipher.sha256}."
        )

    def _bar(self) -> "tqdm[Any]":
        return tqdm(unit=" steps", disable=not sys.stderr.isatty())


def _from_one(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise ArgumentTypeError("a whole number from 1")
    return int(text)
