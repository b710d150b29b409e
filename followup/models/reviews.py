"""One patient's occurrence of a step, and the slots booked for it."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from followup.models.calendars import Clinic
from followup.models.protocols import ProtocolStep
from registry.models.base import ClinicalRow, one_of
from registry.models.procedures import Procedure


class ReviewState(models.TextChoices):
    PLANNED = "planned", "Planned"
    BOOKED = "booked", "Booked"
    ATTENDED = "attended", "Attended"
    MISSED = "missed", "Missed"
    LAPSED = "lapsed", "Lapsed"
    NOT_NEEDED = "not_needed", "Not needed"


OPEN_STATES = (ReviewState.PLANNED, ReviewState.BOOKED)


class EndedBecause(models.TextChoices):
    CHOSEN = "chosen", "Decided in clinic"
    DEATH = "death", "The patient died"
    WITHDRAWAL = "withdrawal", "The patient withdrew"
    MOVED = "moved", "The patient moved away"
    REVISION = "revision", "A revision started a new schedule"
    REMOVAL = "removal", "A removal started a new schedule"
    PROTOCOL = "protocol", "The protocol no longer asks for it"


class Review(ClinicalRow):
    """A planned visit. 'Due', 'late' and 'in window' come from the dates and are not stored."""

    procedure = models.ForeignKey(Procedure, on_delete=models.PROTECT, related_name="reviews")
    step = models.ForeignKey(ProtocolStep, on_delete=models.PROTECT, related_name="reviews")
    opens_on = models.DateField()
    due_on = models.DateField()
    closes_on = models.DateField()
    proposed_on = models.DateField()
    # A person moved the proposed day, for example to level a clinic: planning keeps it if it can.
    day_chosen = models.BooleanField(default=False, db_default=False)
    state = models.CharField(
        max_length=12, choices=ReviewState.choices, default=ReviewState.PLANNED
    )
    ended_because = models.CharField(
        max_length=12, choices=EndedBecause.choices, blank=True, default=""
    )
    ended_reason = models.CharField(max_length=300, blank=True, default="")
    attended_on = models.DateField(null=True, blank=True)
    complete = models.BooleanField(default=False)
    not_obtainable = models.JSONField(default=dict, blank=True)
    # What was asked or looked at and leaves no row of its own: 'complication_screen', 'wound_check'.
    asked = models.JSONField(default=list, blank=True)
    next_step_note = models.CharField(max_length=300, blank=True, default="")
    # What the surgeon wrote in their own words; the rest of the visit's note is composed.
    visit_note = models.TextField(max_length=4000, blank=True, default="", db_default="")
    # A second look at a missed review, kept so that the Due list can say who was missed before.
    missed_count = models.PositiveSmallIntegerField(default=0)

    class Meta(ClinicalRow.Meta):
        ordering = ["due_on", "id"]
        indexes = [
            models.Index(fields=["site", "state", "due_on"]),
            models.Index(fields=["site", "state", "closes_on"]),
            # The Due list reads the few that wait and are near, however many there are in all.
            models.Index(
                fields=["site", "opens_on"],
                condition=Q(state__in=["planned", "booked", "missed"], voided_at__isnull=True),
                name="followup_review_waiting",
            ),
        ]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("state", ReviewState, "followup_review_state_known"),
            models.UniqueConstraint(
                fields=["procedure", "step"],
                condition=Q(voided_at__isnull=True),
                name="followup_review_once",
            ),
            models.CheckConstraint(
                condition=Q(opens_on__lte=F("due_on"), due_on__lte=F("closes_on")),
                name="followup_review_window_in_order",
            ),
            models.CheckConstraint(
                condition=Q(proposed_on__gte=F("opens_on"), proposed_on__lte=F("closes_on")),
                name="followup_review_proposed_inside_window",
            ),
            models.CheckConstraint(
                condition=Q(state=ReviewState.NOT_NEEDED, ended_because__in=EndedBecause.values)
                | (~Q(state=ReviewState.NOT_NEEDED) & Q(ended_because="")),
                name="followup_review_not_needed_has_cause",
            ),
            models.CheckConstraint(
                condition=~Q(ended_because=EndedBecause.CHOSEN) | ~Q(ended_reason=""),
                name="followup_review_chosen_has_reason",
            ),
            models.CheckConstraint(
                condition=Q(state=ReviewState.ATTENDED, attended_on__isnull=False)
                | (~Q(state=ReviewState.ATTENDED) & Q(attended_on__isnull=True)),
                name="followup_review_attended_has_date",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.step}, due {self.due_on:%d %b %Y}"


class AppointmentState(models.TextChoices):
    BOOKED = "booked", "Booked"
    KEPT = "kept", "Kept"
    MISSED = "missed", "Missed"
    CANCELLED = "cancelled", "Cancelled"


class Appointment(ClinicalRow):
    """A booked slot for a review; a review may need several."""

    review = models.ForeignKey(Review, on_delete=models.PROTECT, related_name="appointments")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="appointments")
    surgeon = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="appointments",
    )
    on = models.DateField(db_index=True)
    at = models.TimeField()
    film_first = models.BooleanField(default=True)
    state = models.CharField(
        max_length=10, choices=AppointmentState.choices, default=AppointmentState.BOOKED
    )

    class Meta(ClinicalRow.Meta):
        ordering = ["on", "at", "id"]
        indexes = [models.Index(fields=["site", "on", "state"])]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("state", AppointmentState, "followup_appointment_state_known"),
            models.UniqueConstraint(
                fields=["review"],
                condition=Q(state=AppointmentState.BOOKED, voided_at__isnull=True),
                name="followup_appointment_one_open",
            ),
            models.UniqueConstraint(
                fields=["clinic", "on", "at"],
                condition=Q(state=AppointmentState.BOOKED, voided_at__isnull=True),
                name="followup_appointment_slot_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.on:%d %b %Y} {self.at:%H:%M}"
