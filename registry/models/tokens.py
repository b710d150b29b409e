"""What a program's token may do: less than the person, never more."""

from django.db import models
from knox.models import AuthToken

from registry.models.sites import Site


class TokenScope(models.Model):
    """Whether a token writes, at which of the person's sites it acts, and when it was last used.

    It goes with its token. A token without one is of before there were scopes, and may do all that its
    person may.
    """

    # It goes with its token, and no token leaves in an archive.
    archived = False

    token = models.OneToOneField(
        AuthToken, on_delete=models.CASCADE, primary_key=True, related_name="scope"
    )
    writes = models.BooleanField(default=False)
    everywhere = models.BooleanField(default=False)
    sites = models.ManyToManyField(Site, related_name="+")
    last_used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return "reads and writes" if self.writes else "reads"
