"""Field safety notices, whom they are about, and what became of each."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from registry.models.base import AuditedRow, ClinicalRow, one_of
from registry.models.procedures import Procedure
from registry.rules.notice_states import ENDS


class NoticeKind(models.TextChoices):
    RECALL = "recall", "Recall"
    CORRECTION = "correction", "Correction"
    INFORMATION = "information", "Information"


class SafetyNotice(AuditedRow):
    """One notice about implants, entered once for all sites; it names no patient."""

    reference = models.CharField(max_length=60, unique=True)
    title = models.CharField(max_length=160)
    kind = models.CharField(max_length=12, choices=NoticeKind.choices)
    advice = models.TextField(max_length=4000)
    issued_on = models.DateField()
    received_on = models.DateField()
    due_on = models.DateField()
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="safety_notices"
    )
    # Whether somebody who was told still has to be seen before the notice is done with.
    must_be_seen = models.BooleanField(default=True)
    withdrawn_on = models.DateField(null=True, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-received_on", "-id"]
        constraints = [
            one_of("kind", NoticeKind, "registry_safetynotice_kind_known"),
            models.CheckConstraint(
                condition=Q(received_on__gte=F("issued_on"), due_on__gte=F("received_on")),
                name="registry_safetynotice_days_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reference}: {self.title}"


class NoticeScope(AuditedRow):
    """One line of what a notice is about: whatever is given in a line has to fit together."""

    notice = models.ForeignKey(SafetyNotice, on_delete=models.CASCADE, related_name="scopes")
    device_identifier = models.CharField(max_length=40, blank=True, default="")
    catalogue_number = models.CharField(max_length=40, blank=True, default="")
    batch_first = models.CharField(max_length=40, blank=True, default="")
    batch_last = models.CharField(max_length=40, blank=True, default="")
    serial_first = models.CharField(max_length=40, blank=True, default="")
    serial_last = models.CharField(max_length=40, blank=True, default="")
    expires_from = models.DateField(null=True, blank=True)
    expires_to = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(device_identifier="")
                | ~Q(catalogue_number="")
                | ~Q(batch_first="")
                | ~Q(serial_first=""),
                name="registry_noticescope_names_something",
            ),
            models.CheckConstraint(
                condition=Q(expires_from__isnull=True, expires_to__isnull=True)
                | Q(expires_to__gte=F("expires_from")),
                name="registry_noticescope_expiry_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"a line of {self.notice}"


class Sureness(models.TextChoices):
    CERTAIN = "certain", "Certain"
    NEAR = "near", "Near: to be decided"
    NOT_EXCLUDED = "not_excluded", "Cannot be excluded"


class CarrierState(models.TextChoices):
    UNDECIDED = "undecided", "To be decided"
    NOT_ONE = "not_one", "Does not carry it"
    TO_REACH = "to_reach", "To be reached"
    REACHED = "reached", "Reached"
    REVIEWED = "reviewed", "Reviewed"
    REMOVED = "removed", "Removed"
    UNREACHABLE = "unreachable", "Could not be reached"
    DIED = "died", "Died"
    DECLINED = "declined", "Declined"


class NoticeCarrier(ClinicalRow):
    """One operation that left in a patient what a notice is, or may be, about."""

    notice = models.ForeignKey(SafetyNotice, on_delete=models.PROTECT, related_name="carriers")
    procedure = models.ForeignKey(Procedure, on_delete=models.PROTECT, related_name="carried")
    sureness = models.CharField(max_length=12, choices=Sureness.choices)
    because = models.CharField(max_length=300)
    state = models.CharField(max_length=12, choices=CarrierState.choices)

    class Meta(ClinicalRow.Meta):
        ordering = ["id"]
        indexes = [
            models.Index(fields=["notice", "site", "state"], name="registry_carrier_state"),
        ]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("sureness", Sureness, "registry_carrier_sureness_known"),
            one_of("state", CarrierState, "registry_carrier_state_known"),
            models.UniqueConstraint(
                fields=["notice", "procedure"],
                condition=Q(voided_at__isnull=True),
                name="registry_carrier_once",
            ),
            models.CheckConstraint(
                condition=~Q(sureness=Sureness.CERTAIN) | ~Q(state__in=["undecided", "not_one"]),
                name="registry_carrier_certain_is_decided",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.notice.reference}: {self.get_state_display()}"

    @property
    def has_ended(self) -> bool:
        """Say whether nothing is left to do about it."""
        done = self.state == CarrierState.REACHED and not self.notice.must_be_seen
        return done or self.state in ENDS


class CarrierStepKind(models.TextChoices):
    FOUND = "found", "Found"
    MORE_SURE = "more_sure", "Found more surely"
    IS_ONE = "is_one", "Carries it"
    IS_NONE = "is_none", "Does not carry it"
    DECIDE_AGAIN = "decide_again", "To be decided again"
    REACHED = "reached", "Reached"
    REVIEWED = "reviewed", "Reviewed"
    REMOVED = "removed", "Removed"
    UNREACHABLE = "unreachable", "Could not be reached"
    DIED = "died", "Died"
    DECLINED = "declined", "Declined"
    OPENED_AGAIN = "opened_again", "Opened again"


class CarrierStep(AuditedRow):
    """One step of what became of a carrier. Steps are added and never changed."""

    carrier = models.ForeignKey(NoticeCarrier, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=12, choices=CarrierStepKind.choices)
    state = models.CharField(max_length=12, choices=CarrierState.choices)
    on = models.DateField()
    note = models.CharField(max_length=300, blank=True, default="")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [
            one_of("kind", CarrierStepKind, "registry_carrierstep_kind_known"),
            one_of("state", CarrierState, "registry_carrierstep_state_known"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.on:%d %b %Y}"


class NoticeClosing(ClinicalRow):
    """That a site has done with a notice: each of its carriers has an end. Opening it again voids it."""

    notice = models.ForeignKey(SafetyNotice, on_delete=models.PROTECT, related_name="closings")
    closed_on = models.DateField()
    carriers = models.PositiveIntegerField()
    note = models.CharField(max_length=300, blank=True, default="")

    class Meta(ClinicalRow.Meta):
        ordering = ["id"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            models.UniqueConstraint(
                fields=["notice", "site"],
                condition=Q(voided_at__isnull=True),
                name="registry_noticeclosing_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.notice.reference}, closed on {self.closed_on:%d %b %Y}"
