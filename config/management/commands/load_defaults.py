import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.utils import timezone

from followup.services import protocols
from registry.services import setup


class Command(BaseCommand):
    help = "Add the shipped construct types and protocols; what is there already is left alone."

    def handle(self, *args: Any, **given: Any) -> None:
        folder = Path(settings.BASE_DIR) / "fixtures"
        kinds = setup.load_construct_types(
            json.loads((folder / "construct_types.json").read_text())
        )
        rows = json.loads((folder / "protocols.json").read_text())
        added = protocols.load_protocols(rows, now=timezone.now())
        self.stdout.write(f"Defaults: {kinds} construct types and {added} protocols added.")
