"""Which protocol applies to an operation."""

from datetime import date

from django.db.models import Q

from followup.models.protocols import Protocol, ProtocolPurpose, ProtocolVersion


def version_for(
    *, site_id: int, construct_type_id: int | None, purpose: str, on: date
) -> ProtocolVersion | None:
    """Return the version in force: of the site and construct type, the site, the type, or default."""
    candidates = list(
        Protocol.objects.filter(
            Q(site_id=site_id) | Q(site__isnull=True),
            Q(construct_type_id=construct_type_id) | Q(construct_type__isnull=True),
            purpose=purpose or ProtocolPurpose.FIXATION,
        )
    )
    candidates.sort(
        key=lambda row: (row.site_id is not None, row.construct_type_id is not None), reverse=True
    )
    for protocol in candidates:
        version = (
            protocol.versions.filter(effective_from__lte=on)
            .order_by("-effective_from", "-number")
            .prefetch_related("steps")
            .first()
        )
        if version is not None:
            return version
    return None
