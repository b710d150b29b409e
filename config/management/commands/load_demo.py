import sys
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from tqdm import tqdm

from analytics.simulation import setting
from config.demo.load import Wanted, load
from registry.errors import BadInput


class Command(BaseCommand):
    help = "Load the invented service into an empty database: two hospitals, four years, 240 cases."

    def handle(self, *args: Any, **given: Any) -> None:
        if settings.PRODUCTION:
            raise CommandError(
                "This service is in production. The demo makes people whose password is known to all; "
                "load it on a trial, without HOLDFAST_PRODUCTION."
            )
        wanted = Wanted()
        self.stdout.write(f"Demo: {wanted.procedures} cases. {setting.INVENTED}")
        bar = tqdm(total=wanted.procedures, unit=" cases", file=sys.stderr)
        try:
            load(
                wanted,
                now=timezone.localtime(),
                today=timezone.localdate(),
                whole=True,
                progress=bar.update,
            )
        except BadInput as fault:
            raise CommandError(str(fault)) from None
        finally:
            bar.close()
