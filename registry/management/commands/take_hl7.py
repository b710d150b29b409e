from argparse import ArgumentParser
from collections import Counter
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from tqdm import tqdm

from registry.errors import HoldfastError
from registry.models.hospital_messages import HospitalFate, HospitalWay
from registry.models.sites import Site
from registry.rules.hl7_text import SplitFile, split_file
from registry.services import hospital_messages

MOST_MB = 200


class Command(BaseCommand):
    help = (
        "Take HL7 v2 messages (ADT and SIU) from files: single ones, or batches between FHS, BHS, BTS "
        "and FTS. The same message is taken once. Ends with 1 where a message cannot be used, or a "
        "file holds other than the number that its trailers promise; the others are taken."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("files", type=Path, nargs="+", metavar="FILE")
        parser.add_argument("--site", required=True, help="code of the site whose system sent them")

    def handle(self, *args: Any, **given: Any) -> None:
        site = Site.objects.filter(code=given["site"], is_active=True).first()
        if site is None:
            raise CommandError(f"There is no site '{given['site']}'.")
        files = [(path, self._read(path)) for path in given["files"]]
        faults = 0
        for path, found in files:
            faults += self._take(site, path, found)
        if faults:
            raise CommandError(f"{faults} faults: see above, and the page of messages.")

    def _read(self, path: Path) -> SplitFile:
        try:
            if path.stat().st_size > MOST_MB * 1_000_000:
                raise CommandError(f"{path} is larger than {MOST_MB} MB; split it.")
            found = split_file(path.read_bytes())
        except OSError as fault:
            raise CommandError(f"{path} cannot be read: {fault.strerror}.") from fault
        if not found.messages:
            raise CommandError(f"{path} holds no message: no row begins with MSH.")
        return found

    def _take(self, site: Site, path: Path, found: SplitFile) -> int:
        fates: Counter[str] = Counter()
        for content in tqdm(found.messages, unit=" messages", disable=None):
            try:
                taken = hospital_messages.take(
                    site=site, content=content, way=HospitalWay.FILE, now=timezone.now()
                )
            except HoldfastError as fault:
                raise CommandError(str(fault)) from fault
            fates[taken.fate] += 1
        said = ", ".join(
            f"{many} {HospitalFate(fate).label.lower()}" for fate, many in fates.items()
        )
        self.stdout.write(f"{path}: {len(found.messages)} messages read: {said}.")
        faults = fates[HospitalFate.REFUSED]
        if found.promised is not None and found.promised != len(found.messages):
            self.stderr.write(
                f"{path} promises {found.promised} messages and holds {len(found.messages)}: "
                "ask its sender for the whole file."
            )
            faults += 1
        return faults
