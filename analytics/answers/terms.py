"""A definition in words, term by term, as a meeting asks about it."""

from analytics.endpoints.definition import EndpointDefinition
from analytics.endpoints.reduction import SIDE_RULES

UNITS = {"rise_mm": "mm", "side_difference_mm": "mm", "side_ratio_pct": "%", "displacement": "%"}
COMES_FIRST = {
    "revision": "a revision fixation",
    "removal": "removal of the implant",
    "death": "death",
}


def terms(definition: EndpointDefinition) -> dict[str, str]:
    """Return what a definition asks for: baseline, reference, films compared, error, what competes."""
    said = {}
    if definition.reference != "none":
        said["Baseline"] = (
            f"the first measurable film up to day {definition.baseline_days} after the operation; "
            "without one a case cannot be judged"
        )
        said["Compared with"] = _reference(definition)
        said["Threshold"] = _threshold(definition)
        said["Second film"] = _confirmation(definition)
    if definition.mdc_mm is not None:
        said["Measurement error"] = _error(definition)
    if definition.partial_from is not None:
        said["Partial"] = (
            f"held, but over {definition.partial_from:g} {UNITS[definition.rule]} on the last film"
        )
    said["Comes first"] = _competing(definition)
    return said


def _reference(definition: EndpointDefinition) -> str:
    if definition.rule in SIDE_RULES:
        return (
            "the uninjured other shoulder on the same film, of any view; and the first film had to be "
            "within the threshold, else there was nothing to lose"
        )
    alike = [
        words
        for asked, words in (
            (definition.same_view, "the same view"),
            (definition.same_posture, "the same posture where both are known"),
        )
        if asked
    ]
    return f"the first film, on films of {' and '.join(alike)}" if alike else "the first film"


def _threshold(definition: EndpointDefinition) -> str:
    edge = "at least" if definition.inclusive else "more than"
    return f"{edge} {definition.threshold:g} {UNITS[definition.rule]}"


def _confirmation(definition: EndpointDefinition) -> str:
    if definition.confirmed:
        return "asked for: the next comparable film, or a revision fixation, has to confirm a loss"
    return "not asked for: one film is enough"


def _error(definition: EndpointDefinition) -> str:
    treated = (
        "counts as held whatever the threshold says"
        if definition.within_error == "held"
        else "is said, and counts as the threshold says"
    )
    return (
        f"a change of less than {definition.mdc_mm:g} mm since the first film is within measurement "
        f"error; it {treated}"
    )


def _competing(definition: EndpointDefinition) -> str:
    named = [COMES_FIRST[name] for name in definition.competing]
    ended = f"{' or '.join(named)} ends the watch as a competing event, not as censoring"
    if "removal" in definition.competing or definition.rule == "complication":
        return ended
    return f"{ended}; a removal does not: what a film shows after it still counts"
