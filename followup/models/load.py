"""A proposal that levels a site's clinics, kept until somebody applies or discards it."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from followup.models.reviews import Review
from registry.models.base import AuditedRow, one_of
from registry.models.sites import Site


class ProposalState(models.TextChoices):
    PROPOSED = "proposed", "Proposed"
    APPLIED = "applied", "Applied"
    DISCARDED = "discarded", "Discarded"


class LoadProposal(AuditedRow):
    """Which waiting reviews would move to which clinic day, as computed at one moment.

    `days` holds a list for each clinic day: the day, its slots, its booked, and how many wait for it
    before and after. `shortages` holds for each: its days, their free slots, and the reviews that
    have no other days.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="load_proposals")
    weeks = models.PositiveSmallIntegerField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    made_at = models.DateTimeField()
    made_on = models.DateField()
    state = models.CharField(
        max_length=10, choices=ProposalState.choices, default=ProposalState.PROPOSED
    )
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    decided_at = models.DateTimeField(null=True, blank=True)
    considered = models.PositiveIntegerField()
    days = models.JSONField(default=list)
    shortages = models.JSONField(default=list, blank=True)
    # What the clinics and closed days were: when they change, the proposal is about other days.
    calendar_digest = models.CharField(max_length=64)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-made_at", "-id"]
        constraints = [
            one_of("state", ProposalState, "followup_loadproposal_state_known"),
            models.UniqueConstraint(
                fields=["site"],
                condition=Q(state=ProposalState.PROPOSED),
                name="followup_loadproposal_one_open",
            ),
            models.CheckConstraint(
                condition=Q(state=ProposalState.PROPOSED, decided_at__isnull=True)
                | (~Q(state=ProposalState.PROPOSED) & Q(decided_at__isnull=False)),
                name="followup_loadproposal_decided_has_time",
            ),
        ]

    def __str__(self) -> str:
        return f"Levelling of {self.site}, {self.made_on:%d %b %Y}"


class LoadOutcome(models.TextChoices):
    OPEN = "open", "Proposed"
    NO_ROOM = "no_room", "No day with room"
    MOVED = "moved", "Moved"
    LEFT_ALONE = "left_alone", "Left alone"


class LoadLine(models.Model):
    """One review of a proposal: over which version it moves, from when to when; or that it cannot."""

    proposal = models.ForeignKey(LoadProposal, on_delete=models.CASCADE, related_name="lines")
    review = models.ForeignKey(Review, on_delete=models.PROTECT, related_name="load_lines")
    review_version = models.PositiveIntegerField()
    from_on = models.DateField()
    to_on = models.DateField(null=True, blank=True)
    outcome = models.CharField(max_length=10, choices=LoadOutcome.choices, default=LoadOutcome.OPEN)
    because = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ["from_on", "to_on", "id"]
        constraints = [
            one_of("outcome", LoadOutcome, "followup_loadline_outcome_known"),
            models.UniqueConstraint(
                fields=["proposal", "review"], name="followup_loadline_review_once"
            ),
            models.CheckConstraint(
                condition=Q(outcome=LoadOutcome.NO_ROOM, to_on__isnull=True)
                | (~Q(outcome=LoadOutcome.NO_ROOM) & Q(to_on__isnull=False)),
                name="followup_loadline_moves_to_a_day",
            ),
            models.CheckConstraint(
                condition=~Q(to_on=F("from_on")), name="followup_loadline_moves_elsewhere"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.review}: {self.from_on} to {self.to_on or 'nowhere'}"
