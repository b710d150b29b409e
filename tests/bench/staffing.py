"""The people of a busy service: one account for each of those who work in it at once."""

import json
import sys

from django.utils import timezone

from config.demo.load import Wanted, load
from registry.models import Membership, Person, Site

# By the word of the demo's sign-in, which is the word of `people.py`.
ROLES = {"coordinator": "coordinator", "surgeon": "surgeon", "quality": "quality_lead"}
# One of so many sees all sites, the others two.
SEES_ALL = 5


def open_service(operations: int, sites: int) -> None:
    """Fill an empty database with an invented service, with all that the demo shows."""
    wanted = Wanted(operations, sites)
    load(wanted, now=timezone.localtime(), today=timezone.localdate(), whole=True)


def hire(number: int) -> None:
    """Give so many people of each role a sign-in of their own, with the demo's open password."""
    sites = list(Site.objects.order_by("pk"))
    began = Membership.objects.earliest("starts_on").starts_on
    for word, role in ROLES.items():
        password = Person.objects.get(username=word).password
        for n in range(number):
            person = Person.objects.create(
                username=f"busy-{word}-{n}", shown_name=f"{word.title()} {n}", password=password
            )
            both = (sites[2 * n % len(sites)], sites[(2 * n + 1) % len(sites)])
            for site in sites if n % SEES_ALL == 0 else dict.fromkeys(both):
                Membership.objects.create(person=person, site=site, role=role, starts_on=began)


def tell() -> None:
    """Print their names by role, and which day it is for the service."""
    people = {
        word: list(
            Person.objects.filter(username__startswith=f"busy-{word}-")
            .order_by("-pk")
            .values_list("username", flat=True)
        )
        for word in ROLES
    }
    sys.stdout.write(
        json.dumps({"people": people, "today": timezone.localdate().isoformat()}) + "\n"
    )
