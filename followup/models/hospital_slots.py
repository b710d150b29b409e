"""Slots that the hospital's system names, and the appointment that came of each."""

from django.db import models
from django.db.models import Q

from followup.models.calendars import Clinic
from followup.models.reviews import Appointment
from registry.models.base import one_of
from registry.models.hospital_messages import HospitalMessage
from registry.models.patients import Patient
from registry.models.sites import Site


class SlotAct(models.TextChoices):
    BOOKED = "booked", "Booked"
    CANCELLED = "cancelled", "Cancelled"
    MISSED = "missed", "Missed"
    ELSEWHERE = "elsewhere", "At a clinic that is not ours"


class HospitalSlot(models.Model):
    """What was last said of one slot, by its name there; bookkeeping, and no clinical fact.

    `clock` is the place in time of the newest word on it and `first_clock` of the oldest that came: the
    same review goes to the slot that was named first, whatever order the messages come in. `made` says
    that the appointment came of it, and was not booked here before.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="hospital_slots")
    filler = models.CharField(max_length=120, blank=True, default="")
    placer = models.CharField(max_length=120, blank=True, default="")
    act = models.CharField(max_length=10, choices=SlotAct.choices)
    on = models.DateField(null=True, blank=True)
    at = models.TimeField(null=True, blank=True)
    clinic = models.ForeignKey(
        Clinic, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    clock = models.CharField(max_length=180)
    first_clock = models.CharField(max_length=180)
    message = models.ForeignKey(
        HospitalMessage, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    appointment = models.OneToOneField(
        Appointment, on_delete=models.PROTECT, null=True, blank=True, related_name="hospital_slot"
    )
    made = models.BooleanField(default=False, db_default=False)

    class Meta:
        ordering = ["first_clock", "id"]
        indexes = [models.Index(fields=["site", "placer"], name="followup_slot_by_placer")]
        constraints = [
            one_of("act", SlotAct, "followup_hospitalslot_act_known"),
            models.UniqueConstraint(
                fields=["site", "filler"],
                condition=~Q(filler=""),
                name="followup_hospitalslot_filler_once",
            ),
            models.CheckConstraint(
                condition=~Q(filler="") | ~Q(placer=""), name="followup_hospitalslot_has_name"
            ),
            models.CheckConstraint(
                condition=~Q(act="booked")
                | Q(on__isnull=False, at__isnull=False, clinic__isnull=False),
                name="followup_hospitalslot_booked_has_place",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_act_display()}, {self.on or 'no day'}"
