"""The service itself as a person: background work is written down under its own name."""

from registry.models.people import Person
from registry.services import records

USERNAME = "holdfast"


def background_person() -> Person:
    """Return who writes at night; nobody can sign in as this person, who holds no role."""
    found = Person.objects.filter(username=USERNAME).first()
    if found is not None:
        return found
    with records.change(by=None, reason="first background work"):
        return Person.objects.get_or_create(
            username=USERNAME,
            defaults={"shown_name": "Holdfast itself", "is_active": False, "password": "!"},
        )[0]
