"""The cohort that an address asks for: read from it, written back into it, and cut from the frames."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

import pandas as pd

from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import DEFINITIONS, LOSS, definitions_of
from analytics.endpoints.definition import Data, EndpointDefinition
from analytics.endpoints.known import CohortData
from analytics.models.definitions import EndpointChoice
from analytics.selectors.frames import Frames
from registry.errors import BadInput
from registry.models.injuries import CLASS_CODES, InjuryKind
from registry.models.sites import Site
from registry.selectors.visible import Viewer, site_ids

GROUPS = {
    "construct_type": "construct type",
    "site": "site",
    "neer": "Neer class",
    "rockwood": "Rockwood class",
    "side": "side",
    "sex": "sex",
}


CODES: dict[str, tuple[str, ...]] = {
    "neer": CLASS_CODES["neer"],
    "rockwood": CLASS_CODES["rockwood"],
    "kind": tuple(InjuryKind.values),
}


@dataclass(frozen=True)
class CohortRule:
    """Which index procedures a figure is about, and the question asked of them."""

    endpoint: str = LOSS
    definition_id: str = ""
    horizon: str = "12m"
    by: str = "construct_type"
    operated_from: date | None = None
    operated_to: date | None = None
    site: str = ""
    surgeon_id: int | None = None
    neer: str = ""
    rockwood: str = ""
    kind: str = ""
    snapshot: str = ""

    def address(self, **changes: object) -> str:
        """Return the query part of the address that reproduces this view, with some changes."""
        values = {
            "endpoint": self.endpoint,
            "definition": self.definition_id,
            "horizon": self.horizon,
            "by": self.by,
            "from": self.operated_from or "",
            "to": self.operated_to or "",
            "site": self.site,
            "surgeon": self.surgeon_id or "",
            "neer": self.neer,
            "rockwood": self.rockwood,
            "kind": self.kind,
            "snapshot": self.snapshot,
            **changes,
        }
        return urlencode({name: value for name, value in values.items() if value != ""})

    def words(self) -> str:
        """Say the rule in words, as every figure and file prints it."""
        parts = ["index procedures"]
        if self.operated_from:
            parts.append(f"from {self.operated_from:%d %b %Y}")
        if self.operated_to:
            parts.append(f"to {self.operated_to:%d %b %Y}")
        if self.site:
            parts.append(f"at site {self.site}")
        if self.surgeon_id:
            parts.append(f"by surgeon number {self.surgeon_id}")
        if self.neer:
            parts.append(f"of Neer class {self.neer}")
        if self.rockwood:
            parts.append(f"of Rockwood class {self.rockwood}")
        if self.kind:
            parts.append("fractures only" if self.kind == "lateral_clavicle" else "AC joints only")
        return " ".join(parts)


def rule_from(address: Mapping[str, str]) -> CohortRule:
    """Read the cohort rule from an address.

    Raises BadInput naming each part that cannot be read.
    """
    faults: dict[str, str] = {}
    endpoint = address.get("endpoint") or LOSS
    horizon = address.get("horizon") or "12m"
    by = address.get("by") or "construct_type"
    definition = address.get("definition", "")
    if endpoint not in {row.endpoint for row in DEFINITIONS.values()}:
        faults["endpoint"] = f"'{endpoint}' is not an endpoint"
    elif definition and definition not in {row.id for row in definitions_of(endpoint)}:
        faults["definition"] = f"'{definition}' is not a definition of {endpoint}"
    else:
        faults.update(_too_early(endpoint, horizon))
    if horizon not in HORIZONS:
        faults["horizon"] = f"'{horizon}' is not one of {', '.join(HORIZONS)}"
    if by not in GROUPS:
        faults["by"] = f"'{by}' is not one of {', '.join(GROUPS)}"
    surgeon = address.get("surgeon", "")
    if surgeon and not (surgeon.isascii() and surgeon.isdigit()):
        faults["surgeon"] = f"'{surgeon}' is not a surgeon's number"
    for name, codes in CODES.items():
        if address.get(name) and address[name] not in codes:
            faults[name] = f"'{address[name]}' is not one of {', '.join(codes)}"
    days = {name: _day(address.get(name, ""), name, faults) for name in ("from", "to")}
    if faults:
        raise BadInput(faults)
    return CohortRule(
        endpoint=endpoint,
        definition_id=definition,
        horizon=horizon,
        by=by,
        operated_from=days["from"],
        operated_to=days["to"],
        site=address.get("site", ""),
        surgeon_id=int(surgeon) if surgeon else None,
        neer=address.get("neer", ""),
        rockwood=address.get("rockwood", ""),
        kind=address.get("kind", ""),
        snapshot=address.get("snapshot", ""),
    )


def _too_early(endpoint: str, horizon: str) -> dict[str, str]:
    """Return the fault of a horizon before which an endpoint cannot be asked for."""
    first = min(row.from_days for row in definitions_of(endpoint))
    if horizon not in HORIZONS or HORIZONS[horizon].days >= first:
        return {}
    later = [code for code, row in HORIZONS.items() if row.days >= first]
    return {"horizon": f"{endpoint} cannot be known by {horizon}; choose {' or '.join(later)}"}


def refuse_foreign_site(rule: CohortRule, sites: Iterable[Site]) -> None:
    """Refuse a site that is not among those that may be seen; whether it is there is not said.

    Raises BadInput.
    """
    codes = sorted(site.code for site in sites)
    if rule.site and rule.site not in codes:
        raise BadInput({"site": f"'{rule.site}' is none of your sites ({', '.join(codes)})"})


def refuse_other_surgeon(rule: CohortRule, user: Viewer, sites: Iterable[Site]) -> None:
    """Refuse the figures of another surgeon to whoever may not see surgeons at all these sites.

    Raises BadInput.
    """
    if rule.surgeon_id is None or rule.surgeon_id == user.pk:
        return
    if not {site.pk for site in sites} <= set(site_ids(user, "see_surgeons")):
        raise BadInput(
            {"surgeon": "your roles show you your own figures, and those of all together"}
        )


def cut(frames: Frames, rule: CohortRule, sites: "set[str]") -> Data:
    """Return the data of a cohort: the cases that the rule chooses, at these sites only."""
    cases = frames.cases
    keep = cases["site"].isin(sites)
    for name, value in (
        ("site", rule.site),
        ("surgeon_id", rule.surgeon_id),
        ("neer", rule.neer),
        ("rockwood", rule.rockwood),
        ("injury_kind", rule.kind),
    ):
        if value:
            keep &= (cases[name] == value).fillna(value=False).astype(bool)
    if rule.operated_from is not None:
        keep &= cases["performed_on"] >= pd.Timestamp(rule.operated_from)
    if rule.operated_to is not None:
        keep &= cases["performed_on"] <= pd.Timestamp(rule.operated_to)
    chosen = cases.loc[keep]
    return CohortData(chosen, frames.cutoff, lambda name: getattr(frames, name), frames.verdicts)


def reoperations_of(frames: Frames, data: Data) -> pd.DataFrame:
    """Return the later operations of a cohort's injuries."""
    return frames.reoperations.loc[frames.reoperations["index_id"].isin(data.cases.index)]


class Unchosen(BadInput):
    """No one primary definition stands for the sites of a view; which there are is said."""

    def __init__(self, endpoint: str, chosen: Mapping[str, str]) -> None:
        """Take the endpoint, and by site what it chose ('' for nothing)."""
        self.endpoint = endpoint
        self.definitions = definitions_of(endpoint)
        self.chosen = dict(chosen)
        super().__init__({"definition": f"{self.state} Name one of {self._listed()}."})

    @property
    def state(self) -> str:
        """Who chose what, in words."""
        if not any(self.chosen.values()):
            return "No primary definition is chosen at the sites in view."
        said = "; ".join(f"{site}: {name or 'none'}" for site, name in sorted(self.chosen.items()))
        return f"The sites in view have not chosen the same primary definition ({said})."

    def _listed(self) -> str:
        return ", ".join(row.id for row in self.definitions)


def definition_for(rule: CohortRule, site_codes: "set[str]") -> EndpointDefinition:
    """Return the definition that a rule names, or the one that all sites in its view chose.

    An endpoint for which one definition ships leaves no choice. Raises Unchosen where a site in view
    has chosen none, or another one than the next: nothing is taken in silence.
    """
    shipped = definitions_of(rule.endpoint)
    if rule.definition_id or len(shipped) == 1:
        return DEFINITIONS[rule.definition_id] if rule.definition_id else shipped[0]
    chosen = choices_of(rule, site_codes)
    names = set(chosen.values())
    if len(names) != 1 or not names <= {row.id for row in shipped}:
        raise Unchosen(rule.endpoint, chosen)
    return DEFINITIONS[names.pop()]


def choices_of(rule: CohortRule, site_codes: "set[str]") -> dict[str, str]:
    """Return by site in a rule's view the id of what it calls its own, '' where it chose nothing."""
    in_view = {rule.site} & site_codes if rule.site else site_codes
    rows = EndpointChoice.objects.filter(
        endpoint=rule.endpoint, superseded=False, site__code__in=in_view
    ).values_list("site__code", "definition_id")
    return {**dict.fromkeys(in_view, ""), **dict(rows)}


def _day(text: str, name: str, faults: dict[str, str]) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        faults[name] = f"'{text}' is not a date; write year-month-day"
        return None
