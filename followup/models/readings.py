"""Which films a site wants read more than once, and the readings that it waits for."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from followup.models.films import Film
from followup.rules.measurement_error import MDC_MM
from followup.rules.second_readings import SECOND
from registry.models.base import AuditedRow, ClinicalRow, one_of
from registry.models.sites import Site


class Draw(models.TextChoices):
    NONE = "none", "No film"
    ALL = "all", "Every film"
    SHARE = "share", "A random share"
    NEAR = "near", "Every film near a threshold"


def _mm(default: float) -> "models.DecimalField[float, float]":
    return models.DecimalField(
        max_digits=3,
        decimal_places=1,
        default=default,
        validators=[MinValueValidator(0.1), MaxValueValidator(30)],
    )


def _pct(default: float) -> "models.DecimalField[float, float]":
    return models.DecimalField(
        max_digits=4,
        decimal_places=1,
        default=default,
        validators=[MinValueValidator(0.1), MaxValueValidator(300)],
    )


class ReadingPolicy(AuditedRow):
    """Which of its films a site has read twice, and what sends a film to a third reader.

    `taken_from` leaves out films of earlier days; empty, none is. `near_change_mm` is a rise of the CC distance since the first film, `near_ratio_pct` its excess
    over the other side in per cent; a film is near when it lies within `mdc_mm`, the minimal
    detectable change that the site assumes, or `near_margin_pct` points of it. `third_mm` and
    `third_pct` are how far two readings may lie apart.
    """

    site = models.OneToOneField(Site, on_delete=models.PROTECT, related_name="reading_policy")
    draw = models.CharField(max_length=8, choices=Draw.choices, default=Draw.NONE)
    share_pct = models.PositiveSmallIntegerField(
        default=10, validators=[MinValueValidator(1), MaxValueValidator(100)]
    )
    seed = models.CharField(max_length=40, default="1")
    taken_from = models.DateField(null=True, blank=True)
    near_change_mm = _mm(3)
    near_ratio_pct = _pct(25)
    near_margin_pct = _pct(20)
    mdc_mm = _mm(MDC_MM)
    third_mm = _mm(MDC_MM)
    third_pct = _pct(20)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        verbose_name_plural = "reading policies"
        constraints = [
            one_of("draw", Draw, "followup_readingpolicy_draw_known"),
            models.CheckConstraint(
                condition=Q(share_pct__gte=1, share_pct__lte=100)
                & ~Q(seed="")
                & Q(near_change_mm__gt=0, near_ratio_pct__gt=0, near_margin_pct__gt=0)
                & Q(mdc_mm__gt=0, third_mm__gt=0, third_pct__gt=0),
                name="followup_readingpolicy_possible",
            ),
        ]

    def __str__(self) -> str:
        return f"Second readings at {self.site}"


class WantedState(models.TextChoices):
    WANTED = "wanted", "Wanted"
    DONE = "done", "Done"
    WITHDRAWN = "withdrawn", "Withdrawn"


class WantedBecause(models.TextChoices):
    ALL = "all", "every film is read twice"
    SHARE = "share", "drawn at random"
    NEAR = "near", "near a threshold"
    DISAGREEMENT = "disagreement", "two readings lie too far apart"


class WantedReading(ClinicalRow):
    """A second or third blind reading that a film waits for, or had.

    `reader` is who took it, and once it is done who did it. Its number stands for the patient's key
    where the film is read.
    """

    film = models.ForeignKey(Film, on_delete=models.PROTECT, related_name="wanted_readings")
    turn = models.PositiveSmallIntegerField()
    because = models.CharField(max_length=12, choices=WantedBecause.choices)
    state = models.CharField(max_length=9, choices=WantedState.choices, default=WantedState.WANTED)
    reader = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="wanted_readings",
    )
    withdrawn_because = models.CharField(max_length=100, blank=True, default="")

    class Meta(ClinicalRow.Meta):
        ordering = ["id"]
        indexes = [
            models.Index(
                fields=["site", "turn", "id"],
                condition=Q(state="wanted", voided_at__isnull=True),
                name="followup_wanted_open",
            )
        ]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("state", WantedState, "followup_wantedreading_state_known"),
            one_of("because", WantedBecause, "followup_wantedreading_because_known"),
            models.UniqueConstraint(
                fields=["film", "turn"],
                condition=Q(voided_at__isnull=True),
                name="followup_wantedreading_once",
            ),
            models.CheckConstraint(
                condition=Q(turn__gte=2, turn__lte=3), name="followup_wantedreading_turn_2_or_3"
            ),
            models.CheckConstraint(
                condition=~Q(state="done") | Q(reader__isnull=False),
                name="followup_wantedreading_done_by_somebody",
            ),
            models.CheckConstraint(
                condition=Q(state="withdrawn", reader__isnull=True) & ~Q(withdrawn_because="")
                | ~Q(state="withdrawn") & Q(withdrawn_because=""),
                name="followup_wantedreading_withdrawn_with_cause",
            ),
        ]

    def __str__(self) -> str:
        which = "Second" if self.turn == SECOND else "Third"
        return f"{which} reading, number {self.pk}"
