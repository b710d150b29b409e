"""Bundles that go out: the page of a search with its links, and the answer to a transaction."""

from collections.abc import Iterable, Sequence
from urllib.parse import quote, urlencode

from registry.rules.fhir.elements import Json, compact
from registry.rules.fhir.outcomes import outcome, warning
from registry.rules.fhir.queries import CURSOR, Query


def etag(version: str) -> str:
    """Return the entity tag of a resource's version."""
    return f'W/"{version}"'


def link(base: str, kind: str, pairs: Iterable[tuple[str, str]]) -> str:
    """Return the address of a search."""
    written = urlencode(list(pairs), quote_via=quote, safe="|,:/$")
    return f"{base}/{kind}" + (f"?{written}" if written else "")


def search_set(
    base: str,
    kind: str,
    query: Query,
    resources: Sequence[Json],
    *,
    total: int | None,
    onward: str,
    in_form: bool = False,
) -> Json:
    """Return one page of a search; `onward` is where the next begins, '' on the last.

    Links are followed by GET, whose address any log keeps. So what was asked for in a form is turned
    over by the same form with the next page in it, which a remark among the entries says.
    """
    links = [{"relation": "self", "url": link(base, kind, query.pairs)}]
    remarks = list(query.passed_over)
    if onward and in_form:
        told = f"There is more: send the same form again with {CURSOR}={onward} in it."
        remarks.append(warning("incomplete", told, CURSOR))
    elif onward:
        others = [pair for pair in query.pairs if pair[0] != CURSOR]
        links.append({"relation": "next", "url": link(base, kind, [*others, (CURSOR, onward)])})
    entries = [
        {
            "fullUrl": f"{base}/{one['resourceType']}/{one['id']}",
            "resource": one,
            "search": {"mode": "match"},
        }
        for one in resources
    ]
    if remarks:
        entries.append({"resource": outcome(remarks), "search": {"mode": "outcome"}})
    return compact(
        {
            "resourceType": "Bundle",
            "type": "searchset",
            "total": total,
            "link": links,
            "entry": entries,
        }
    )
