"""A program that speaks JSON to the interface, signed in as somebody."""

from collections.abc import Callable
from typing import Any

from rest_framework.test import APIClient

from registry.models import Person


class Program(APIClient):
    """A client that sends JSON, and the version of what it changes."""

    default_format = "json"

    def change(self, url: str, values: dict[str, Any], version: int = 1) -> Any:
        """Patch a row over a version."""
        return self.patch(url, values, headers={"If-Match": f'"{version}"'})

    def act(self, url: str, values: dict[str, Any], version: int = 1) -> Any:
        """Do an act on a row of a version."""
        return self.post(url, values, headers={"If-Match": f'"{version}"'})


def signed_in(person: Person) -> Program:
    """Return a program that acts for a person."""
    program = Program()
    program.force_authenticate(person)
    return program


def cost(program: Program, url: str, counted: Callable[[], Any]) -> int:
    """Return how many queries a list takes, its roles being asked for afresh."""
    person: Any = program.handler._force_user
    person.__dict__.pop("_roles_today", None)
    with counted() as queries:
        answer = program.get(url)
    assert answer.status_code == 200, answer.content
    return len(queries)
