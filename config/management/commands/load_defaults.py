import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.utils import timezone

from followup.services import calendars, message_setup, protocols
from registry.services import setup
from registry.services.background import background_person


class Command(BaseCommand):
    help = (
        "Add the shipped construct types, protocols and words of messages; what is there already is "
        "left alone."
    )

    def handle(self, *args: Any, **given: Any) -> None:
        folder = Path(settings.BASE_DIR) / "fixtures"
        kinds = setup.load_construct_types(
            json.loads((folder / "construct_types.json").read_text())
        )
        rows = json.loads((folder / "protocols.json").read_text())
        added = protocols.load_protocols(rows, now=timezone.now())
        words = json.loads((folder / "message_templates.json").read_text())
        texts = message_setup.load_templates(words, now=timezone.now())
        # The nightly look does it too; nobody has to wait for the first night.
        closed = calendars.fill_every_site(
            by=background_person(), now=timezone.now(), today=timezone.localdate()
        )
        self.stdout.write(
            f"Defaults: {kinds} construct types, {added} protocols and {texts} message texts added, "
            f"{closed} public holidays closed."
        )
