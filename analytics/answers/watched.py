"""What is watched for drift: three endpoints, and how each case stands on the day it is settled."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from analytics.answers import horizons
from analytics.answers.horizons import HORIZONS, Horizon
from analytics.endpoints.catalogue import DEFINITIONS, LOSS, apply
from analytics.endpoints.definition import Data, EndpointDefinition

INFECTION, REOPERATION = "infection", "reoperation"
# The site's own primary definition stands in for this one.
ITS_OWN = ""


@dataclass(frozen=True)
class WatchedEndpoint:
    """One endpoint that is watched; `horizons` are those that it can be asked at, the usual first."""

    code: str
    name: str
    endpoint: str
    definition_id: str
    horizons: tuple[str, ...]


# An operation that nobody planned is taken from the operations themselves, and from what was
# recorded as one: a revision and a removal for symptoms are seldom typed a second time as a harm.
UNPLANNED = EndpointDefinition(
    id="unplanned-operation",
    version=1,
    endpoint="unplanned_operation",
    name="Unplanned reoperation",
    text=(
        "The first operation after the index procedure that was not planned from the start: a "
        "revision fixation, a washout, a removal that was not planned, or what is recorded as an "
        "unplanned reoperation."
    ),
    source="common practice, no source",
    rule="complication",
    competing=("death",),
    kinds=("unplanned_reoperation",),
)
WATCHED: Mapping[str, WatchedEndpoint] = {
    row.code: row
    for row in (
        WatchedEndpoint("loss", "Loss of reduction", LOSS, ITS_OWN, ("6m", "3m", "12m")),
        WatchedEndpoint(
            INFECTION,
            "Deep infection within 90 days",
            "infection_deep_90d",
            "infection-deep-90d",
            ("3m",),
        ),
        WatchedEndpoint(
            REOPERATION,
            "Unplanned reoperation",
            UNPLANNED.endpoint,
            UNPLANNED.id,
            ("12m", "6m", "3m"),
        ),
    )
}
SETTLED = ("event", "held", "competing")


def definition_of(definition_id: str) -> EndpointDefinition:
    """Return a shipped definition, or the one of unplanned operations.

    Raises KeyError for an unknown one.
    """
    return UNPLANNED if definition_id == UNPLANNED.id else DEFINITIONS[definition_id]


def states(
    data: Data, reoperations: pd.DataFrame, definition: EndpointDefinition, horizon: Horizon
) -> pd.DataFrame:
    """Return for each case how it stands at a horizon, and on which day its window closed.

    `reoperations` as in the frames (index_id, kind, performed_on, planned_removal). Columns: state
    and reason as in `horizons.states_at`, event (bool), settled (bool: the case can be judged and
    its window is closed, so that those with the event do not come before those without),
    performed_on. A competing event that came first settles a case as one without the event.
    """
    watched = with_unplanned(data, reoperations) if definition.id == UNPLANNED.id else data
    cutoff = pd.Timestamp(data.cutoff)
    found = horizons.states_at(apply(definition, watched), data.cases, horizon, cutoff)
    closes = horizons.due_on(data.cases, horizon) + pd.Timedelta(days=horizon.after_days)
    found["event"] = found["state"] == "event"
    found["settled"] = found["state"].isin(SETTLED) & (closes < cutoff)
    found["performed_on"] = data.cases["performed_on"]
    return found


def in_order(found: pd.DataFrame) -> pd.DataFrame:
    """Return the settled cases in the order in which they were operated on."""
    settled = found.loc[found["settled"]]
    keys = settled.index.to_numpy()
    return settled.iloc[np.lexsort((keys, settled["performed_on"].to_numpy()))]


def with_unplanned(data: Data, reoperations: pd.DataFrame) -> Data:
    """Return the data with each operation that nobody planned as an event of its day."""
    removal = reoperations["kind"] == "implant_removal"
    planned = reoperations["planned_removal"].fillna(value=False).astype(bool)
    counted = reoperations.loc[
        reoperations["index_id"].isin(data.cases.index)
        & (reoperations["kind"].isin(["revision_fixation", "washout"]) | (removal & ~planned))
    ]
    events = pd.DataFrame(
        {
            "procedure_id": counted["index_id"],
            "kind": UNPLANNED.kinds[0],
            "onset_on": counted["performed_on"],
            "detected_on": counted["performed_on"],
        }
    )
    kept = data.complications[list(events.columns)]
    both = kept if events.empty else events if kept.empty else pd.concat([kept, events])
    return Data(data.cases, data.readings, both, data.cutoff)


def horizon_of(code: str) -> Horizon:
    """Return a horizon by its code.

    Raises KeyError for an unknown one.
    """
    return HORIZONS[code]
