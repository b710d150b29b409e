"""One row of a table of rates as a page shows it: each number with the address of its cases."""

from typing import Any

from analytics.answers import outcomes as answers
from analytics.endpoints.definition import REASONS
from analytics.selectors.cohorts import CohortRule
from analytics.views.strips import both, interval


def row_context(row: answers.GroupRow, rule: CohortRule) -> dict[str, Any]:
    """Write one row's numbers, each with the address of the cases behind it."""
    group = "" if row.group == answers.ALL else row.group

    def link(which: str) -> str:
        return rule.address(group=group, which=which)

    return {
        "group": row.group,
        "is_total": row.group == answers.ALL,
        "counts": [
            {"label": label, "number": getattr(row, which), "link": link(which)}
            for which, label in COUNTS.items()
        ],
        "rate": interval(row.rate),
        "bounds": both(row.bounds),
        "incidence": interval(row.incidence.estimate),
        "at_risk": row.incidence.at_risk,
        "reasons": [
            {"words": REASONS[code], "number": number, "link": link(f"reason:{code}")}
            for code, number in row.reasons.items()
        ],
    }


COUNTS = {
    "operated": "Operated",
    "eligible": "Eligible",
    "evaluable": "Evaluable",
    "events": "Events",
    "competing": "Competing event first",
    "not_evaluable": "Not judged",
}
