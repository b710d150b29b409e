"""Files of cases before they are imported: what was found in them and settled; and what is remembered."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from registry.models.base import AuditedRow, one_of
from registry.models.imports import ImportBatch
from registry.models.patients import Patient
from registry.models.sites import Site


class DraftState(models.TextChoices):
    READING = "reading", "Being read"
    SETTLING = "settling", "Waiting for what its columns mean"
    CHECKING = "checking", "Being checked"
    CHECKED = "checked", "Checked"
    LANDING = "landing", "Being imported"
    LANDED = "landed", "Imported"


# What the background has to go on with.
AT_WORK = (DraftState.READING, DraftState.CHECKING, DraftState.LANDING)


class ImportDraft(models.Model):
    """A file that was sent, with what is known and settled of it; it goes with the file.

    It stands outside the trail, which would keep the names that its survey and findings hold.
    `holder` is whoever works on it; a holder that died lets it go at `held_until`. Of whom it names
    nobody can be sure: `erased_at` is when a patient of its site was erased after it had come.
    """

    # Nothing of it is imported yet, and it goes with the file.
    archived = False

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    token = models.CharField(max_length=40, unique=True)
    file_name = models.CharField(max_length=200)
    size = models.PositiveBigIntegerField(default=0)
    brought_at = models.DateTimeField()
    brought_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    state = models.CharField(max_length=10, choices=DraftState.choices, default=DraftState.READING)
    fault = models.CharField(max_length=600, blank=True, default="")
    encoding = models.CharField(max_length=20, blank=True, default="")
    separator = models.CharField(max_length=1, blank=True, default="")
    # How each encoding would read the accented words, where a person has to say.
    previews = models.JSONField(default=list, blank=True)
    header = models.JSONField(default=list, blank=True)
    notes = models.JSONField(default=list, blank=True)
    counts_from = models.CharField(max_length=4, blank=True, default="")
    survey = models.JSONField(default=list, blank=True)
    mapping = models.JSONField(default=dict, blank=True)
    columns_settled = models.BooleanField(default=False)
    days_settled = models.BooleanField(default=False)
    words_settled = models.BooleanField(default=False)
    rows = models.PositiveIntegerField(default=0)
    rows_done = models.PositiveIntegerField(default=0)
    rows_good = models.PositiveIntegerField(default=0)
    rows_known = models.PositiveIntegerField(default=0)
    rows_rejected = models.PositiveIntegerField(default=0)
    rows_waiting = models.PositiveIntegerField(default=0)
    # The last line whose patient and reviews were settled after all rows had landed.
    settled_line = models.PositiveIntegerField(default=0)
    # The lines that waited when it was gone on with: the others were settled by then.
    waited = models.JSONField(default=list, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)
    holder = models.CharField(max_length=40, blank=True, default="")
    held_until = models.DateTimeField(null=True, blank=True)
    batch = models.OneToOneField(
        ImportBatch, on_delete=models.PROTECT, null=True, blank=True, related_name="draft"
    )

    class Meta:
        ordering = ["-brought_at", "-id"]
        constraints = [one_of("state", DraftState, "followup_importdraft_state_known")]

    def __str__(self) -> str:
        return self.file_name

    @property
    def at_work(self) -> bool:
        """Whether the background is to go on with it."""
        return self.state in AT_WORK and not self.fault


class RowFinding(models.TextChoices):
    REJECTED = "rejected", "Cannot be used"
    KNOWN = "known", "Known already"
    WAITING = "waiting", "Waiting for a decision"


class ImportFinding(models.Model):
    """What the check found about one row of a file, or about one value of it."""

    # Nothing of it is imported yet, and it goes with the file.
    archived = False

    draft = models.ForeignKey(ImportDraft, on_delete=models.CASCADE, related_name="findings")
    line = models.PositiveIntegerField()
    kind = models.CharField(max_length=10, choices=RowFinding.choices)
    column = models.CharField(max_length=200, blank=True, default="")
    value = models.CharField(max_length=200, blank=True, default="")
    reason = models.TextField()

    class Meta:
        ordering = ["line", "id"]
        indexes = [
            models.Index(fields=["draft", "kind", "line"], name="followup_importfinding_line")
        ]
        constraints = [one_of("kind", RowFinding, "followup_importfinding_kind_known")]

    def __str__(self) -> str:
        return f"line {self.line}: {self.reason}"


class PairAnswer(models.TextChoices):
    OPEN = "", "Not decided"
    SAME = "same", "The same patient"
    OTHER = "other", "Another person"


class ImportPair(models.Model):
    """A person of a file beside who may be the same: a patient, or the person of an earlier line.

    Numbers and names are what the file says; they go with the file. `likely` is set where the score
    is above the upper threshold: then they are one patient unless somebody says otherwise.
    """

    # Nothing of it is imported yet, and it goes with the file.
    archived = False

    draft = models.ForeignKey(ImportDraft, on_delete=models.CASCADE, related_name="pairs")
    line = models.PositiveIntegerField()
    number = models.CharField(max_length=60)
    person = models.JSONField()
    other_patient = models.ForeignKey(
        Patient, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    other_line = models.PositiveIntegerField(null=True, blank=True)
    other_number = models.CharField(max_length=60, blank=True, default="")
    other_person = models.JSONField(default=dict, blank=True)
    # The other one in one word: 'patient 12' or 'number 000417'.
    other_key = models.CharField(max_length=80)
    weight = models.FloatField()
    likely = models.BooleanField()
    because = models.CharField(max_length=200)
    answer = models.CharField(
        max_length=10, choices=PairAnswer.choices, blank=True, default=PairAnswer.OPEN
    )
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["line", "-weight", "id"]
        constraints = [
            one_of("answer", PairAnswer, "followup_importpair_answer_known"),
            models.UniqueConstraint(
                fields=["draft", "number", "other_key"], name="followup_importpair_once"
            ),
            models.CheckConstraint(
                condition=Q(other_patient__isnull=False, other_number="")
                | (Q(other_patient__isnull=True) & ~Q(other_number="")),
                name="followup_importpair_has_other",
            ),
        ]

    def __str__(self) -> str:
        return f"line {self.line}: {self.because}"


class RememberedColumns(AuditedRow):
    """What a site's columns were settled to mean, for files with the same names of columns."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    header_key = models.CharField(max_length=64)
    mapping = models.JSONField()
    kept_at = models.DateTimeField()
    kept_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        verbose_name_plural = "remembered columns"
        constraints = [
            models.UniqueConstraint(
                fields=["site", "header_key"], name="followup_rememberedcolumns_once"
            )
        ]

    def __str__(self) -> str:
        return f"columns of {self.site}"


class RememberedWord(AuditedRow):
    """What a site means by a word in columns of one vocabulary: our code, '' for nothing."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    vocabulary = models.CharField(max_length=60)
    word = models.CharField(max_length=60)
    code = models.CharField(max_length=60, blank=True, default="")
    kept_at = models.DateTimeField()
    kept_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["vocabulary", "word"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "vocabulary", "word"], name="followup_rememberedword_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.word}: {self.code or 'nothing'}"
