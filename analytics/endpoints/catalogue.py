"""Every definition that ships; the service chooses its primary one for each endpoint."""

from analytics.endpoints import harms, reduction, union
from analytics.endpoints.definition import Applied, Apply, Data, EndpointDefinition

LOSS = "loss_of_reduction"
HARM_KINDS: dict[str, str] = {
    "infection_superficial": "Superficial infection",
    "infection_deep": "Deep infection",
    "loss_of_fixation": "Loss of fixation",
    "implant_failure": "Implant failure",
    "peri_implant_fracture": "Peri-implant fracture",
    "nonunion": "Nonunion",
    "malunion": "Malunion",
    "subacromial_osteolysis": "Subacromial osteolysis",
    "impingement": "Impingement",
    "hardware_irritation": "Hardware irritation",
    "skin_breakdown": "Skin breakdown",
    "nerve": "Nerve injury or numbness",
    "stiffness": "Stiffness",
    "refracture": "Refracture",
    "unplanned_reoperation": "Unplanned reoperation",
    "ac_arthrosis": "Acromioclavicular arthrosis",
    "other": "Other",
}

DEFINITIONS: dict[str, EndpointDefinition] = {
    row.id: row
    for row in (
        EndpointDefinition(
            id="rise-3mm",
            version=1,
            endpoint=LOSS,
            name="CC distance more than 3 mm above the first film",
            text=(
                "Lost when the coracoclavicular distance exceeds that of the first film after the "
                "operation by more than 3 mm, on a calibrated film of the same view."
            ),
            source="J Orthop Surg Res 2020, s13018-020-01674-x",
            rule="rise_mm",
            threshold=3.0,
        ),
        EndpointDefinition(
            id="ratio-25",
            version=1,
            endpoint=LOSS,
            name="CC distance 25 % or more above the other side",
            text=(
                "Lost when the coracoclavicular distance is at least 25 % above that of the "
                "uninjured other shoulder on the same film."
            ),
            source="Mori et al. JBJS Open Access 2017;2:e0007",
            rule="side_ratio_pct",
            threshold=25.0,
            inclusive=True,
        ),
        EndpointDefinition(
            id="difference-5mm",
            version=1,
            endpoint=LOSS,
            name="Side difference of more than 5 mm",
            text=(
                "Lost when the coracoclavicular distance exceeds that of the uninjured other "
                "shoulder by more than 5 mm on a calibrated film."
            ),
            source="radiology reference entry on the coracoclavicular distance (a diagnostic rule)",
            rule="side_difference_mm",
            threshold=5.0,
        ),
        EndpointDefinition(
            id="ratio-50",
            version=1,
            endpoint=LOSS,
            name="CC distance more than 50 % above the other side",
            text=(
                "Failed when the coracoclavicular distance is more than 50 % above that of the "
                "uninjured other shoulder; 25 to 50 % is partial and does not count here."
            ),
            source="multicentre series of 2015 and others, from memory",
            rule="side_ratio_pct",
            threshold=50.0,
            partial_from=25.0,
        ),
        EndpointDefinition(
            id="doubled",
            version=1,
            endpoint=LOSS,
            name="CC distance doubled against the other side",
            text=(
                "Redislocated when the coracoclavicular distance is at least twice that of the "
                "uninjured other shoulder."
            ),
            source="from memory",
            rule="side_ratio_pct",
            threshold=100.0,
            inclusive=True,
        ),
        EndpointDefinition(
            id="union-film",
            version=1,
            endpoint="union",
            name="Union on films",
            text="United on the first film that every reader who judged it calls united.",
            source="common practice, no source",
            rule="united",
            event_is_harm=False,
        ),
        EndpointDefinition(
            id="any-complication",
            version=1,
            endpoint="any_complication",
            name="Any complication",
            text="The first complication of any kind; a planned removal is not one.",
            source="common practice, no source",
            rule="complication",
            competing=("death",),
        ),
        *(
            EndpointDefinition(
                id=kind.replace("_", "-"),
                version=1,
                endpoint=kind,
                name=name,
                text=f"The first complication recorded as: {name.lower()}.",
                source="common practice, no source",
                rule="complication",
                competing=("death",),
                kinds=(kind,),
            )
            for kind, name in HARM_KINDS.items()
        ),
        EndpointDefinition(
            id="infection-deep-90d",
            version=1,
            endpoint="infection_deep_90d",
            name="Deep infection within 90 days",
            text="A deep infection that began within 90 days of the operation.",
            source=(
                "surveillance convention for operations with an implant; that fixation of a fracture "
                "belongs to its 90-day list is from memory"
            ),
            rule="complication",
            competing=("death",),
            kinds=("infection_deep",),
            within_days=90,
        ),
    )
}

_APPLY: dict[str, Apply] = {
    "rise_mm": reduction.apply,
    "side_ratio_pct": reduction.apply,
    "side_difference_mm": reduction.apply,
    "united": union.apply,
    "complication": harms.apply,
}


def definitions_of(endpoint: str) -> tuple[EndpointDefinition, ...]:
    """Return the shipped definitions of an endpoint.

    Raises KeyError, naming those that exist, when there is no such endpoint.
    """
    found = tuple(row for row in DEFINITIONS.values() if row.endpoint == endpoint)
    if not found:
        raise KeyError(f"'{endpoint}' is not an endpoint; choose one of {', '.join(endpoints())}")
    return found


def endpoints() -> tuple[str, ...]:
    """Return the names of all endpoints, in the order in which they ship."""
    return tuple(dict.fromkeys(row.endpoint for row in DEFINITIONS.values()))


def apply(definition: EndpointDefinition, data: Data) -> Applied:
    """Apply a definition to data."""
    return _APPLY[definition.rule](definition, data)
