"""What of a visit's page may be kept while it is typed: findings and words, never a decision."""

from collections.abc import Mapping

MOST_FIELDS, MOST_CHARACTERS = 150, 4000
# Kept nowhere until somebody saves: what decides, orders or confirms, and what the page itself sends.
NEVER = ("csrfmiddlewaretoken", "version", "checked", "arrange_physiotherapy")
DECISIONS = "decision_"


def kept(typed: Mapping[str, str]) -> dict[str, str]:
    """Return what is kept of what was typed: fields with something in them, cut to a possible length."""
    found = {
        name: value[:MOST_CHARACTERS]
        for name, value in typed.items()
        if value.strip() and name not in NEVER and not name.startswith(DECISIONS)
    }
    return dict(list(found.items())[:MOST_FIELDS])
