"""The people who use the service."""

from django.contrib.auth.models import AbstractUser
from django.db import models


class Person(AbstractUser):
    """Somebody who signs in. What they may do comes from their memberships."""

    audited = True
    # Set where somebody else chose the password: only the person is to know it.
    must_change_password = models.BooleanField(default=False, db_default=False)
    # Raised by each change that an administrator saves, so that none is saved over one that was not seen.
    version = models.PositiveIntegerField(default=1, db_default=1)
    shown_name = models.CharField(max_length=120, blank=True, default="")
    first_name = None  # type: ignore[assignment]  # one shown name is kept instead
    last_name = None  # type: ignore[assignment]

    class Meta:
        verbose_name_plural = "people"
        ordering = ["shown_name", "username"]

    def __str__(self) -> str:
        return self.shown_name or self.username

    def get_full_name(self) -> str:
        return str(self)

    def get_short_name(self) -> str:
        return str(self)
