"""The audit trail: append-only, written by the database, sealed into a hash chain."""

from django.db import models
from django.db.models import Q


class AuditEntry(models.Model):
    """One change or one read. `position`, the digests and `hash` come when the entry is sealed.

    The hash covers the digests of `before` and `after`, so that names can be erased on a patient's
    request without breaking the chain.
    """

    at = models.DateTimeField()
    action = models.CharField(max_length=8)
    table = models.CharField(max_length=80)
    row_id = models.CharField(max_length=40)
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)
    person_id = models.BigIntegerField(null=True)
    reason = models.CharField(max_length=400, blank=True, default="")
    position = models.BigIntegerField(null=True, unique=True)
    previous_hash = models.CharField(max_length=64, blank=True, default="")
    hash = models.CharField(max_length=64, blank=True, default="")
    before_digest = models.CharField(max_length=64, blank=True, default="", db_default="")
    after_digest = models.CharField(max_length=64, blank=True, default="", db_default="")

    class Meta:
        verbose_name_plural = "audit entries"
        indexes = [
            models.Index(fields=["table", "row_id"]),
            models.Index(
                fields=["id"], condition=Q(position__isnull=True), name="registry_audit_unsealed"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.action} {self.table} {self.row_id}"


class ChainHead(models.Model):
    """The last sealed position; its row is the lock under which entries are sealed."""

    position = models.BigIntegerField(default=0)
    hash = models.CharField(max_length=64, default="0" * 64)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="registry_chainhead_one")]

    def __str__(self) -> str:
        return f"sealed to {self.position}"
