"""Who came in, who tried to, and how often: the service's own watch over its door."""

from django.conf import settings
from django.db import models

from registry.models.base import one_of
from registry.rules import sign_in_waits


class TryKind(models.TextChoices):
    DEVICE = sign_in_waits.DEVICE, "a person's own browser"
    PAIR = sign_in_waits.PAIR, "an account from an address"
    ACCOUNT = sign_in_waits.ACCOUNT, "an account"
    ADDRESS = sign_in_waits.ADDRESS, "an address"


class SignInTry(models.Model):
    """How often a sign-in failed lately, by what it was tried with; `key` is a keyed hash of that."""

    # Bookkeeping of the door: it is forgotten within a day.
    archived = False

    kind = models.CharField(max_length=8, choices=TryKind.choices)
    key = models.CharField(max_length=64, unique=True)
    failures = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "sign-in tries"
        indexes = [models.Index(fields=["last_at"])]
        constraints = [one_of("kind", TryKind, "registry_signintry_kind")]

    def __str__(self) -> str:
        return f"{self.failures} from {self.get_kind_display()}"


class SignInEventKind(models.TextChoices):
    IN = "in", "Signed in"
    OUT = "out", "Signed out"
    FAILED = "failed", "Failed to sign in"
    HELD = "held", "Made to wait after too many tries"
    REFUSED = "refused", "Refused: may not sign in"
    CODE_FAILED = "code", "Gave a wrong code"
    STEP_UP = "step_up", "Confirmed who they are"
    PASSWORD = "password", "Chose a new password"
    FACTOR_ADDED = "added", "Added a second factor"
    FACTOR_REMOVED = "removed", "Removed a second factor"
    CODES_MADE = "codes", "Made new recovery codes"
    TIED = "tied", "Tied to the hospital's sign-in"
    UNTIED = "untied", "Parted from the hospital's sign-in"
    ENDED = "ended", "Ended a session"
    IDLE = "idle", "Session ended by idleness"
    TOKEN_MADE = "token", "Made a token"
    TOKEN_REVOKED = "revoked", "Revoked a token"


class SignInEvent(models.Model):
    """One thing that happened at the door. Whose account it was about is empty where nobody has the name.

    What was typed is never kept: people type passwords into the wrong field.
    """

    # About machines and addresses, not about the service's facts; who may do what is in the trail.
    archived = False

    at = models.DateTimeField()
    kind = models.CharField(max_length=8, choices=SignInEventKind.choices)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, null=True, related_name="+"
    )
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, null=True, related_name="+"
    )
    address = models.CharField(max_length=45, blank=True, default="")
    browser = models.CharField(max_length=60, blank=True, default="")
    detail = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        indexes = [
            models.Index(fields=["-at", "-id"]),
            models.Index(fields=["person", "-at"]),
        ]
        constraints = [one_of("kind", SignInEventKind, "registry_signinevent_kind")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} ({self.at:%Y-%m-%d %H:%M})"
