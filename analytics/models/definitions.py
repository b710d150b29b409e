"""A site's choice of its primary endpoint definition."""

from django.conf import settings
from django.db import models

from registry.models.base import AuditedRow
from registry.models.sites import Site


class EndpointChoice(AuditedRow):
    """Which shipped definition a site calls its own for one endpoint, from a day on."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="endpoint_choices")
    endpoint = models.SlugField(max_length=40)
    definition_id = models.SlugField(max_length=40)
    definition_version = models.PositiveSmallIntegerField()
    chosen_on = models.DateField()
    chosen_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    superseded = models.BooleanField(default=False)

    class Meta:
        ordering = ["site", "endpoint", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "endpoint"],
                condition=models.Q(superseded=False),
                name="analytics_choice_one_current",
            )
        ]

    def __str__(self) -> str:
        return f"{self.endpoint}: {self.definition_id}, version {self.definition_version}"
