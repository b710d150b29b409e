"""Setting which of a site's films are read twice."""

from collections.abc import Mapping
from typing import Any

from followup.models.readings import ReadingPolicy
from registry.models.people import Person
from registry.services import setup


def save_policy(
    *, policy: ReadingPolicy, values: Mapping[str, Any], expected_version: int, by: Person
) -> ReadingPolicy:
    """Set which films a site has read twice, over the version that the user saw.

    It holds for every reading from now on; what was read before is drawn by `draw_second_readings`.
    Raises BadInput when a number makes no sense, StaleVersion when somebody changed it first.
    """
    return setup.save_versioned(policy, values, expected_version=expected_version, by=by)
