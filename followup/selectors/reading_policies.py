"""The sites' policies of second readings, as the rules know them."""

from collections.abc import Collection

from followup.models.readings import ReadingPolicy
from followup.rules.measurement_error import MDC_MM
from followup.rules.second_readings import Policy


def policies(site_ids: Collection[int]) -> dict[int, Policy]:
    """Return the policy of each site; where none was set, the one that is shipped: no second reading."""
    rows = ReadingPolicy.objects.filter(site_id__in=site_ids)
    found = {row.site_id: policy_of(row) for row in rows}
    return {site_id: found.get(site_id, Policy()) for site_id in site_ids}


def policy_of(row: ReadingPolicy) -> Policy:
    """Return a site's policy as the rules know it."""
    return Policy(
        draw=row.draw,
        share_pct=row.share_pct,
        seed=row.seed,
        taken_from=row.taken_from,
        near_change_mm=float(row.near_change_mm),
        near_ratio_pct=float(row.near_ratio_pct),
        near_margin_pct=float(row.near_margin_pct),
        mdc_mm=float(row.mdc_mm),
        third_mm=float(row.third_mm),
        third_pct=float(row.third_pct),
    )


def detectable_changes(site_ids: Collection[int]) -> dict[int, float]:
    """Return the minimal detectable change of a CC distance that each site assumes, in mm.

    Where a site has set none it is `MDC_MM`. One query.
    """
    rows = ReadingPolicy.objects.filter(site_id__in=site_ids).values_list("site_id", "mdc_mm")
    found = {site_id: float(mm) for site_id, mm in rows}
    return {site_id: found.get(site_id, MDC_MM) for site_id in site_ids}


def detectable_change(site_id: int) -> float:
    """Return the minimal detectable change of a CC distance that a site assumes, in mm."""
    return detectable_changes([site_id])[site_id]
