import sys
from collections.abc import Mapping
from getpass import getpass
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from registry.errors import BadInput
from registry.forms import setup as forms
from registry.forms.base import PlainForm
from registry.models.people import Person
from registry.services import setup as service


class Command(BaseCommand):
    help = (
        "Add a site with its first administrator, where nobody can do so under Setup yet. "
        "The password of a new person is asked for, or read as the first line that is piped in."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("code", help="short, without spaces; used in imports")
        parser.add_argument("name", help="the hospital's or clinic's name")
        parser.add_argument(
            "--administrator",
            required=True,
            metavar="USERNAME",
            help="who administers it; somebody who is here already keeps their password",
        )
        parser.add_argument("--shown-name", default="", help="a new person's name as shown")
        parser.add_argument("--email", default="", help="a new person's address")
        parser.add_argument("--time-zone", default="Europe/London", help="such as Europe/Berlin")

    def handle(self, *args: Any, **given: Any) -> None:
        site = {"version": 1, "min_at_risk": 5}
        values = _taken(
            forms.SiteForm(
                {**site, **{name: given[name] for name in ("code", "name", "time_zone")}}
            )
        )
        username = given["administrator"].strip()
        there = Person.objects.filter(username__iexact=username).first()
        try:
            opened = service.open_site(
                values={name: values[name] for name in forms.SITE},
                administrator=there or self._new_person(username, given),
                now=timezone.now(),
                today=timezone.localdate(),
            )
        except BadInput as fault:
            raise CommandError(f"Nothing was saved. {fault}") from fault
        self.stdout.write(f"Added: {opened}. {there or username} administers it and signs in now.")

    def _new_person(self, username: str, given: Mapping[str, Any]) -> dict[str, Any]:
        who = {
            "username": username,
            "shown_name": given["shown_name"] or username,
            "email": given["email"],
        }
        return _taken(forms.NewPersonForm({**who, "password": _password_of(username)}))


def _password_of(username: str) -> str:
    """Ask for a password where somebody sits there; it is never an argument, which others can read."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    password = getpass(f"Password of {username}: ")
    if getpass("Once more: ") != password:
        raise CommandError("Nothing was saved. The two passwords are not the same.")
    return password


def _taken(form: PlainForm) -> dict[str, Any]:
    if not form.is_valid():
        faults = (
            f"{form.fields[name].label}: {' '.join(map(str, said))}"
            for name, said in form.errors.items()
        )
        raise CommandError(f"Nothing was saved. {' '.join(faults)}")
    return dict(form.cleaned_data)
