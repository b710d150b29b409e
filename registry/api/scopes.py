"""How programs sign in: by a token whose scope is held here, for every address of every interface."""

from typing import Any

from django.utils import timezone
from knox.auth import TokenAuthentication
from rest_framework.exceptions import PermissionDenied
from rest_framework.permissions import SAFE_METHODS
from rest_framework.request import Request

from registry.services import tokens


class ScopedToken(TokenAuthentication):
    """Lets a token do what its person may, at the token's sites, and write only where it may."""

    def authenticate(self, request: Request) -> Any:
        """Return the person, narrowed to the token's sites, and the token.

        Raises PermissionDenied for a write by a token that only reads, and while its person has to
        choose a password. A view that answers a POST
        without writing says so by `reads_by_post`.
        """
        found = super().authenticate(request)
        if found is None:
            return None
        person, token = found
        if person.must_change_password:
            raise PermissionDenied(
                "Somebody else gave you your password: sign in and choose your own first."
            )
        scope = tokens.use_token(token=token, now=timezone.now())
        view = (request.parser_context or {}).get("view")
        reads = request.method in SAFE_METHODS or (
            request.method == "POST" and getattr(view, "reads_by_post", False)
        )
        if not (scope.writes or reads):
            raise PermissionDenied("This token only reads. Make one that also writes.")
        person.only_sites = scope.sites
        return person, token
