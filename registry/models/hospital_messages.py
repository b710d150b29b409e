"""What the hospital's system sends: how a site takes it, each message with its fate, and its last word."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from registry.models.base import AuditedRow, one_of
from registry.models.patients import Patient
from registry.models.sites import Site


class HospitalDoor(AuditedRow):
    """How a site takes what its hospital's system sends; its row is the lock under which that happens.

    `number_systems` says for each authority that assigns numbers (CX.4) what they are called here;
    others are not taken. A text is kept for `keep_days` after it was settled. Where the hospital
    `tells_bookings` itself, patients have no word from us of slots that its system made.
    """

    site = models.OneToOneField(Site, on_delete=models.PROTECT, related_name="hospital_door")
    facility = models.CharField(max_length=120, blank=True, default="")
    character_set = models.CharField(max_length=20, blank=True, default="")
    number_systems = models.JSONField(default=dict, blank=True)
    keep_days = models.PositiveSmallIntegerField(default=90)
    tells_bookings = models.BooleanField(default=False, db_default=False)
    is_open = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(keep_days__gte=1, keep_days__lte=3650),
                name="registry_hospitaldoor_keep_days_possible",
            )
        ]

    def __str__(self) -> str:
        return f"The hospital's system of {self.site}"


class HospitalFate(models.TextChoices):
    TAKEN = "taken", "Taken"
    NOTHING = "nothing", "Changed nothing"
    OVERTAKEN = "overtaken", "Overtaken by a newer one"
    WAITING = "waiting", "Waits for a person"
    REFUSED = "refused", "Could not be used"
    NOT_OURS = "not_ours", "About nobody and nothing of ours"
    SET_ASIDE = "set_aside", "Set aside by a person"


class HospitalAnswer(models.TextChoices):
    ACCEPTED = "AA", "Kept"
    ERROR = "AE", "Cannot be used"
    REJECTED = "AR", "Of a kind that is not taken"


class HospitalWay(models.TextChoices):
    FILE = "file", "In a file"
    LINE = "line", "Over the line"


class HospitalMessage(models.Model):
    """One message, kept once however often it is sent, with what became of it.

    The text names people, so that it stands outside the trail; it goes after the days of the site, and
    when somebody whom it names is erased. Of what is not ours nothing is kept but that it came:
    `about` are keyed digests of its numbers, by which a later merge finds that something is missing.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="hospital_messages")
    digest = models.CharField(max_length=64)
    event = models.CharField(max_length=10, blank=True, default="")
    control_id = models.CharField(max_length=120, blank=True, default="")
    said_at = models.DateTimeField(null=True, blank=True)
    way = models.CharField(max_length=4, choices=HospitalWay.choices)
    received_at = models.DateTimeField()
    times = models.PositiveIntegerField(default=1)
    fate = models.CharField(max_length=10, choices=HospitalFate.choices)
    because = models.CharField(max_length=400, blank=True, default="")
    answer = models.CharField(max_length=2, choices=HospitalAnswer.choices)
    patient = models.ForeignKey(
        Patient,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="hospital_messages",
    )
    about = models.CharField(max_length=400, blank=True, default="")
    text = models.TextField(blank=True, default="")
    encoding = models.CharField(max_length=12, blank=True, default="")
    text_gone_at = models.DateTimeField(null=True, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    settled_note = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        ordering = ["-received_at", "-id"]
        indexes = [
            models.Index(fields=["site", "-received_at", "-id"], name="registry_hospital_newest"),
            models.Index(fields=["site", "fate", "-received_at"], name="registry_hospital_by_fate"),
        ]
        constraints = [
            one_of("fate", HospitalFate, "registry_hospitalmessage_fate_known"),
            one_of("answer", HospitalAnswer, "registry_hospitalmessage_answer_known"),
            one_of("way", HospitalWay, "registry_hospitalmessage_way_known"),
            models.UniqueConstraint(
                fields=["site", "digest"], name="registry_hospitalmessage_once"
            ),
            models.CheckConstraint(
                condition=~Q(fate="set_aside") | ~Q(settled_note=""),
                name="registry_hospitalmessage_set_aside_says_why",
            ),
            models.CheckConstraint(
                condition=~Q(fate="not_ours") | Q(text=""),
                name="registry_hospitalmessage_not_ours_without_text",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.event or 'A message'} of {self.received_at:%d %b %Y %H:%M}"


class HospitalRecord(models.Model):
    """What the hospital's system last said of a patient, field by field, and when.

    `said` holds for each field the place in time of the newest word on it and that word's digest, and
    after a change of the secret key, encrypted, the keys that the digest may be by; `absorbed` the
    numbers that a merge took up into this patient. It stands outside the trail and goes with an erasure.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="hospital_records")
    said = models.JSONField(default=dict, blank=True)
    absorbed = models.JSONField(default=dict, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "patient"], name="registry_hospitalrecord_once")
        ]

    def __str__(self) -> str:
        return f"{self.patient} at {self.site}"
