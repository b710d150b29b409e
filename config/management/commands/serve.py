from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, connection

from analytics.simulation import setting
from config import bootstrap, trial
from config.broker import BrokerFault
from config.demo.load import is_empty
from registry.models import Person


class Command(BaseCommand):
    help = "Run the whole trial service on this machine until Ctrl-C: what `make run` calls."
    # The database may not have its tables yet.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", default="8000")
        parser.add_argument("--no-demo", action="store_true", help="leave an empty service empty")

    def handle(self, *args: Any, **given: Any) -> None:
        if settings.PRODUCTION:
            raise CommandError("serve is for trials; compose.yaml shows a service in production.")
        try:
            with trial.stopped_by_signals(), trial.alone(settings.DATA_DIR):
                self._serve(given["port"], with_demo=not given["no_demo"])
        except KeyboardInterrupt:
            self.stdout.write("\nStopped.")
        except (bootstrap.CannotStart, trial.TrialFault, BrokerFault) as fault:
            raise CommandError(f"Cannot serve: {fault}.") from None

    def _serve(self, given_port: str, *, with_demo: bool) -> None:
        port = bootstrap.port_number(given_port)
        bootstrap.refuse_taken(port)
        self._prepare(with_demo=with_demo)
        self.stdout.write("Starting the web server, the worker and the broker ...")
        with trial.running(port, data=settings.DATA_DIR) as children:
            trial.wait_until_ready(children, port)
            self._announce(port)
            trial.watch(children)

    def _prepare(self, *, with_demo: bool) -> None:
        try:
            connection.ensure_connection()
        except DatabaseError as fault:
            said = str(fault).strip().splitlines()[0]
            raise trial.TrialFault(f"the database of HOLDFAST_DATABASE: {said}") from None
        call_command("migrate", verbosity=0, interactive=False)
        call_command("load_defaults")
        call_command("copy_schedule")
        if with_demo and is_empty():
            call_command("load_demo")
        # The children open their own; none of ours is to stay open over their start.
        connection.close()

    def _announce(self, port: int) -> None:
        self.stdout.write(f"\nHoldfast is at http://127.0.0.1:{port}/ (Ctrl-C stops it)\n")
        there = set(
            Person.objects.filter(username__in=setting.SIGN_INS).values_list("username", flat=True)
        )
        shown = [person for person in setting.PEOPLE if person.username in there]
        if shown:
            self.stdout.write(f"Demo sign-ins, all with the password {setting.PASSWORD}:\n")
        for person in shown:
            self.stdout.write(f"  {person.username:<16}{person.role.replace('_', ' ')}\n")
        connection.close()
