"""Looking for a patient as a browser does: what is typed is sent, and the page that is led to is read."""

from typing import Any

from django.test import Client
from django.urls import reverse

from registry.models import AuditEntry


def looked_for(client: Client, words: str, page: str = "/patients/") -> Any:
    """Send what is looked for on a page, and return what is shown."""
    return client.post(reverse("find"), {"q": words, "page": page}, follow=True)


def named_on(page: str) -> list[list[str]]:
    """Return whom each look at a page of a list named, by key, as the trail has it."""
    entries = AuditEntry.objects.filter(action="read", table="registry_patient", reason=page)
    return [entry.after["keys"] for entry in entries.order_by("id")]
