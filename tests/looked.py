"""Looking for a patient as a browser does: what is typed is sent, and the page that is led to is read."""

from typing import Any

from django.test import Client
from django.urls import reverse


def looked_for(client: Client, words: str, page: str = "/patients/") -> Any:
    """Send what is looked for on a page, and return what is shown."""
    return client.post(reverse("find"), {"q": words, "page": page}, follow=True)
