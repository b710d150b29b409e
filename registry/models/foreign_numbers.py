"""The numbers by which other systems know an injury, an operation or a part."""

from django.db import models
from django.db.models import Q

from registry.models.constructs import Part
from registry.models.injuries import Injury
from registry.models.procedures import Procedure
from registry.models.sites import Site


class ForeignNumber(models.Model):
    """What another system calls one row, so that the same row sent twice lands once.

    It stands outside the trail, which would keep a hospital's own number after an erasure.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    system = models.CharField(max_length=200)
    value = models.CharField(max_length=100)
    injury = models.ForeignKey(
        Injury, on_delete=models.PROTECT, null=True, blank=True, related_name="foreign_numbers"
    )
    procedure = models.ForeignKey(
        Procedure, on_delete=models.PROTECT, null=True, blank=True, related_name="foreign_numbers"
    )
    part = models.ForeignKey(
        Part, on_delete=models.PROTECT, null=True, blank=True, related_name="foreign_numbers"
    )
    kept_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(injury__isnull=False, procedure__isnull=True, part__isnull=True)
                | Q(injury__isnull=True, procedure__isnull=False, part__isnull=True)
                | Q(injury__isnull=True, procedure__isnull=True, part__isnull=False),
                name="registry_foreignnumber_of_one_row",
            ),
            models.CheckConstraint(
                condition=~Q(system="") & ~Q(value=""), name="registry_foreignnumber_not_empty"
            ),
            *(
                models.UniqueConstraint(
                    fields=["site", "system", "value"],
                    condition=Q(**{f"{kind}__isnull": False}),
                    name=f"registry_foreignnumber_{kind}_once",
                )
                for kind in ("injury", "procedure", "part")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.system} {self.value}"
