"""Passwords: chosen by the person, or given by an administrator for one sign-in."""

from registry.errors import BadInput
from registry.models.people import Person
from registry.services import records


def choose_password(*, person: Person, password: str) -> None:
    """Keep a password that the person chose; sessions that began with another one end with it."""
    person.set_password(password)
    person.must_change_password = False
    with records.change(by=person, reason="chose a new password"):
        person.save(update_fields=["password", "must_change_password"])


def give_password(*, person: Person, password: str, by: Person) -> None:
    """Set a password that the person has to change when they sign in; the caller saves the row.

    Raises BadInput where somebody gives one to themself: the old one has to be asked for.
    """
    if person.pk == by.pk:
        raise BadInput(
            {"password": "Change your own under your name at the top; it asks for the present one."}
        )
    person.set_password(password)
    person.must_change_password = True
