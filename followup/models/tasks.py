"""Things that a person has to do about a patient, by a day."""

from django.db import models
from django.db.models import Q

from followup.models.reviews import Review
from registry.models.base import ClinicalRow, one_of
from registry.models.patients import Patient

# The keys of tasks that an answer of a patient opened begin with it and the answer's number.
REPLY_KEY = "reply"
# Those that a safety notice opened, with the notice's number, the site's and the patient's.
NOTICE_KEY = "notice"


class TaskKind(models.TextChoices):
    ALARMING_ANSWER = "alarming_answer", "An alarming answer"
    PHYSIOTHERAPY = "physiotherapy", "Physiotherapy to arrange"
    MESSAGE = "message", "A message that did not go"
    CONTACT = "contact", "A patient to reach"
    SAFETY_NOTICE = "safety_notice", "A safety notice"
    OTHER = "other", "Other"


class Task(ClinicalRow):
    """One thing to do about one patient; `key` names its cause, which opens it once."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="tasks")
    review = models.ForeignKey(
        Review, on_delete=models.PROTECT, null=True, blank=True, related_name="tasks"
    )
    kind = models.CharField(max_length=16, choices=TaskKind.choices)
    words = models.CharField(max_length=300)
    key = models.CharField(max_length=120)
    due_on = models.DateField()
    done_at = models.DateTimeField(null=True, blank=True)
    done_note = models.CharField(max_length=300, blank=True, default="")

    class Meta(ClinicalRow.Meta):
        ordering = ["due_on", "id"]
        indexes = [
            models.Index(
                fields=["site", "due_on"],
                condition=Q(done_at__isnull=True),
                name="followup_task_open",
            )
        ]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("kind", TaskKind, "followup_task_kind_known"),
            models.UniqueConstraint(
                fields=["key"],
                condition=Q(done_at__isnull=True, voided_at__isnull=True),
                name="followup_task_open_once",
            ),
            models.CheckConstraint(
                condition=Q(done_at__isnull=True, done_note="")
                | (Q(done_at__isnull=False) & ~Q(done_note="")),
                name="followup_task_done_says_how",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.words}"

    @property
    def reply_id(self) -> int | None:
        """The answer of a patient that opened the task, if it was one."""
        return self._number_after(REPLY_KEY)

    @property
    def notice_id(self) -> int | None:
        """The safety notice that opened the task, if one did."""
        return self._number_after(NOTICE_KEY)

    def _number_after(self, word: str) -> int | None:
        kind, _, rest = self.key.partition(":")
        return int(rest.partition(":")[0]) if kind == word else None
