"""What a pack was made from, in words: for people, where the files beside it have it in codes."""

from datetime import UTC

from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import HARM_KINDS, ON_FILMS
from analytics.selectors import definitions
from analytics.selectors.outcomes import Given, provenance


def facts_of(view: Given, *, outside: bool = False) -> dict[str, str]:
    """Return cohort, definition, horizon, cut-off and snapshot in words; outside without counts."""
    said = provenance(view)
    named = {**ON_FILMS, **HARM_KINDS}
    left_out = {} if outside else {"Left out": str(said["left_out"])}
    return {
        "Cohort": str(said["cohort"]),
        **left_out,
        "Question": named.get(view.rule.endpoint, definitions.words(view.rule.endpoint)),
        **_definition(view),
        "Chosen": str(said["primary"]),
        "Horizon": HORIZONS[view.rule.horizon].name,
        "Data up to": f"{view.snapshot.cutoff:%d %b %Y}",
        "Snapshot": view.snapshot.content_hash,
        "Snapshot taken": f"{view.snapshot.taken_at.astimezone(UTC):%d %b %Y, %H:%M} UTC",
        "Version of the program": view.snapshot.code_version,
    }


def _definition(view: Given) -> dict[str, str]:
    if view.unchosen is not None:
        return {"Definition": "none chosen"}
    definition = view.definition
    return {
        "Definition": f"{definition.label}, '{definition.id}' in addresses",
        "It says": definition.text,
        "Its source": definition.source,
    }
