"""Nobody signs up: an administrator adds people under Setup."""

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedAdapter(DefaultAccountAdapter):  # type: ignore[misc]  # allauth ships no types
    """Closes self-registration."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Refuse every sign-up."""
        return False
