from typing import Any

from django.core.management.base import BaseCommand, CommandError

from config.sign_in import secrets
from registry.services import hospital_digests, kept_secrets


class Command(BaseCommand):
    help = (
        "Encrypt the secrets of second factors and of research with the present secret key, and keep "
        "what hospitals' systems last said known after the former key is gone."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            renewed = secrets.renew()
        except kept_secrets.SecretUnreadable as fault:
            raise CommandError(
                "No key in HOLDFAST_SECRET_KEY or HOLDFAST_SECRET_KEY_FALLBACKS opens one of the "
                "secrets; nothing was changed. Name the former key."
            ) from fault
        self.stdout.write(f"{renewed} secrets are encrypted with the present key.")
        words = hospital_digests.keep_keys()
        self.stdout.write(f"{words} last words of hospitals' systems stay known.")
