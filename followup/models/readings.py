"""Which films a site wants read more than once, and the readings that it waits for."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from followup.rules.measurement_error import MDC_MM
from registry.models.base import AuditedRow, one_of
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
