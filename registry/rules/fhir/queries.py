"""The query part of a search: parameters, prefixes, modifiers, paging; nothing is passed over unsaid."""

import base64
import binascii
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from registry.rules.fhir.outcomes import NUL, Issue, Refused, error, refused, warning

TOKEN, REFERENCE, DATE, STRING = "token", "reference", "date", "string"
COUNT, MOST = 50, 200
CURSOR, TOTAL, SUMMARY = "_page", "_total", "_summary"
# What shapes the answer and not what is in it.
SHAPING = ("_count", CURSOR, TOTAL, SUMMARY, "_format", "_pretty")
JSON_FORMATS = ("json", "application/json", "application/fhir+json", "text/json")
SPLIT = re.compile(r"(?<!\\),")


@dataclass(frozen=True)
class Given:
    """One parameter: any of its values will do; one that stands twice has to be met twice."""

    name: str
    values: tuple[str, ...]


@dataclass(frozen=True)
class Query:
    """A search as it was understood. `cursor` is the place of the source and the last row's key."""

    given: tuple[Given, ...] = ()
    count: int = COUNT
    cursor: tuple[int, int] = (0, 0)
    only_count: bool = False
    totalled: bool = True
    passed_over: tuple[Issue, ...] = ()
    pairs: tuple[tuple[str, str], ...] = field(default=())

    @property
    def first_page(self) -> bool:
        """Whether nothing stands before this page."""
        return self.cursor == (0, 0)


def parse(
    pairs: Iterable[tuple[str, str]], known: Mapping[str, str], *, strict: bool = False
) -> Query:
    """Read the parameters of a search; `known` says of each of a resource what type it is of.

    Lenient, an unknown parameter is passed over and named; strict, it is refused. A modifier that is
    not supported is always refused, as R4 demands. Raises Refused.
    """
    listed = [(name, value) for name, value in pairs if value != ""]
    for name, value in listed:
        if NUL in name or NUL in value:
            told = "A search cannot have the sign NUL (%00) in it; leave it out."
            raise refused("value", told, name.replace(NUL, ""))
    given: list[Given] = []
    faults: list[Issue] = []
    passed_over: list[Issue] = []
    shaping: dict[str, str] = {}
    for name, value in listed:
        if name in SHAPING:
            shaping[name] = value
            continue
        plain, colon, modifier = name.partition(":")
        if plain not in known:
            words = f"There is no parameter '{plain}' here; there are {', '.join(sorted(known))}."
            (faults if strict else passed_over).append(
                (error if strict else warning)("not-supported", words, plain)
            )
            continue
        if colon and not (known[plain] == REFERENCE and modifier == "Patient"):
            faults.append(error("not-supported", f"The modifier ':{modifier}' is not known.", name))
            continue
        given.append(Given(plain, _values(value, modifier)))
    if faults:
        raise Refused(faults)
    kept = [one for one in listed if one[0] in SHAPING or one[0].partition(":")[0] in known]
    return _shaped(given, shaping, passed_over, kept)


def next_cursor(source: int, last: int) -> str:
    """Write where the next page begins."""
    return base64.urlsafe_b64encode(json.dumps([source, last]).encode()).decode().rstrip("=")


def token(value: str) -> tuple[str | None, str]:
    """Read 'system|code', '|code' and 'code': None is any system, '' none."""
    system, bar, code = value.partition("|")
    return (system, code) if bar else (None, value)


def _values(value: str, modifier: str) -> tuple[str, ...]:
    parts = tuple(part.replace("\\,", ",").replace("\\|", "|") for part in SPLIT.split(value))
    if modifier == "Patient":
        return tuple(f"Patient/{part.removeprefix('Patient/')}" for part in parts)
    return parts


def _shaped(
    given: Sequence[Given],
    shaping: Mapping[str, str],
    passed_over: Sequence[Issue],
    kept: Sequence[tuple[str, str]],
) -> Query:
    wanted = shaping.get("_format", "json")
    if wanted not in JSON_FORMATS:
        raise refused("not-supported", f"'{wanted}' is not given; ask for json.", status=406)
    summary = shaping.get(SUMMARY, "false")
    if summary not in ("false", "count"):
        raise refused("not-supported", "_summary is 'count' or 'false' here.", SUMMARY)
    total = shaping.get(TOTAL, "accurate")
    if total not in ("none", "estimate", "accurate"):
        raise refused("value", "_total is none, estimate or accurate.", TOTAL)
    count = _whole(shaping.get("_count", str(COUNT)))
    return Query(
        given=tuple(given),
        count=min(count, MOST),
        cursor=_cursor(shaping.get(CURSOR, "")),
        only_count=summary == "count" or count == 0,
        totalled=total != "none",
        passed_over=tuple(passed_over),
        pairs=tuple(kept),
    )


def _whole(text: str) -> int:
    if not (text.isascii() and text.isdigit()):
        raise refused("value", f"'{text}' is no whole number.", "_count")
    return int(text[:9])


def _cursor(text: str) -> tuple[int, int]:
    if not text:
        return (0, 0)
    try:
        padded = text + "=" * (-len(text) % 4)
        source, last = json.loads(base64.urlsafe_b64decode(padded))
        place = (int(source), int(last))
    except (ValueError, TypeError, binascii.Error) as fault:
        raise refused("value", "Follow the link as it was given.", CURSOR) from fault
    if min(place) < 0 or max(place) >= 2**63:
        raise refused("value", "Follow the link as it was given.", CURSOR)
    return place
