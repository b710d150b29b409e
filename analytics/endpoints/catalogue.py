"""Every definition that ships; the service chooses its primary one for each endpoint."""

from analytics.endpoints import displacement, harms, reduction, union
from analytics.endpoints.definition import Applied, Apply, Data, EndpointDefinition
from analytics.endpoints.known import CohortData, Known

LOSS, UNION, NONUNION, DELAYED = "loss_of_reduction", "union", "nonunion_6m", "delayed_union"
# What a film, and not a complaint, decides.
ON_FILMS: dict[str, str] = {
    LOSS: "Loss of reduction",
    UNION: "Union",
    NONUNION: "Nonunion at 6 months",
    DELAYED: "Delayed union",
}
# After a removal there is no implant that could do these.
OF_THE_IMPLANT = ("implant_failure", "peri_implant_fracture", "hardware_irritation")
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

# What repeated readings of a CC distance differ by, about 1.5 to 2 mm: from memory.
MDC_MM = 2.0

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
            reference="first_film",
            same_view=True,
            same_posture=True,
            mdc_mm=MDC_MM,
        ),
        EndpointDefinition(
            id="rise-3mm-confirmed",
            version=1,
            endpoint=LOSS,
            name="CC distance more than 3 mm above the first film, twice",
            text=(
                "Lost when the coracoclavicular distance exceeds that of the first film after the "
                "operation by more than 3 mm on a calibrated film of the same view, and the next such "
                "film shows it too or a revision fixation follows. A film that stands alone is a "
                "misreading until then."
            ),
            source="threshold: J Orthop Surg Res 2020, s13018-020-01674-x; second film: common practice, no source",
            rule="rise_mm",
            threshold=3.0,
            reference="first_film",
            same_view=True,
            same_posture=True,
            confirmed=True,
            mdc_mm=MDC_MM,
            within_error="held",
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
            reference="both",
            mdc_mm=MDC_MM,
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
            reference="both",
            mdc_mm=MDC_MM,
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
            reference="both",
            mdc_mm=MDC_MM,
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
            reference="both",
            mdc_mm=MDC_MM,
            threshold=100.0,
            inclusive=True,
        ),
        EndpointDefinition(
            id="fixation-failure",
            version=1,
            endpoint=LOSS,
            name="New translation of half a shaft, or hardware letting go",
            text=(
                "A fracture fails when its translation exceeds that of the first film, of the same "
                "view, by at least 50 % of the shaft's width, or when a film shows hardware loose, "
                "broken or migrated that was in place on the first. A new gap or step in mm is not "
                "recorded and does not count."
            ),
            source="from memory",
            rule="displacement",
            threshold=50.0,
            inclusive=True,
            reference="first_film",
            same_view=True,
            same_posture=True,
        ),
        EndpointDefinition(
            id="union-film",
            version=1,
            endpoint=UNION,
            name="Union on films",
            text="United on the first film that every reader who judged it calls united.",
            source="common practice, no source",
            rule="united",
            event_is_harm=False,
        ),
        EndpointDefinition(
            id="nonunion-6m",
            version=1,
            endpoint=NONUNION,
            name="Not united at 6 months",
            text=(
                "A film at 6 months or later shows no union. United in time is a fracture that a film "
                "shows united by the end of the six-month review; where union is seen only later and "
                "no film told at 6 months, neither is known. What the patient feels is not asked."
            ),
            source="6 months: a trial's convention for midshaft fractures, PMC8039767",
            rule="nonunion",
            from_days=183,
        ),
        EndpointDefinition(
            id="delayed-union-6m",
            version=1,
            endpoint=DELAYED,
            name="United only after 6 months",
            text=(
                "A film at 6 months or later shows no union and a later one does. The denominator is "
                "every fracture whose course is known: united in time, united late, not united yet."
            ),
            source="6 months: a trial's convention for midshaft fractures, PMC8039767",
            rule="delayed_union",
            event_is_harm=True,
            from_days=365,
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
                version=2 if kind in OF_THE_IMPLANT else 1,
                endpoint=kind,
                name=name,
                text=f"The first complication recorded as: {name.lower()}.",
                source="common practice, no source",
                rule="complication",
                competing=("removal", "death") if kind in OF_THE_IMPLANT else ("death",),
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
    "displacement": displacement.apply,
    "united": union.apply,
    "nonunion": union.apply,
    "delayed_union": union.apply,
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
    """Apply a definition to data, or take what it gave before for a cohort cut from known cases."""
    if isinstance(data, CohortData):
        return Known(definition, data, _APPLY[definition.rule])
    return _APPLY[definition.rule](definition, data)
