"""Reading a resource that came from outside: each element once, and what nobody read is told."""

import re
from collections.abc import Iterator
from typing import Any

from registry.rules.fhir.elements import Json
from registry.rules.fhir.outcomes import NUL, Issue, error, warning

# Names, numbers and the like of one resource; no list that is taken in here is longer.
MOST_IN_A_LIST = 50
# Where a path goes one step further.
STEP = re.compile(r"[.\[]")


class Node:
    """One element of a resource, which remembers what of it was read and what was wrong with it."""

    def __init__(self, value: Any, path: str, seen: set[str], issues: list[Issue]) -> None:
        """Take the element with its FHIRPath; `seen` and `issues` are shared by the whole resource."""
        self.value, self.path = value, path
        self.seen, self.issues = seen, issues

    @classmethod
    def of(cls, resource: Json, path: str) -> "Node":
        """Begin with a whole resource."""
        return cls(resource, path, set(), [])

    def child(self, name: str, place: int | None = None) -> "Node":
        """Return an element below, which may be empty."""
        value = self.value.get(name) if isinstance(self.value, dict) else None
        path = f"{self.path}.{name}"
        if place is None:
            return Node(value, path, self.seen, self.issues)
        listed = value if isinstance(value, list) else []
        inner = listed[place] if place < len(listed) else None
        return Node(inner, f"{path}[{place}]", self.seen, self.issues)

    def each(self, name: str) -> Iterator["Node"]:
        """Yield the elements of a list below."""
        value = self.value.get(name) if isinstance(self.value, dict) else None
        for place in range(len(value) if isinstance(value, list) else 0):
            yield self.child(name, place)

    def text(self, name: str) -> str:
        """Read a word or text below, '' where there is none."""
        one = self.child(name).read()
        return "" if one is None else str(one).strip()

    def read(self) -> Any:
        """Return the whole element as it came, and count it as read."""
        self.seen.add(self.path)
        return self.value

    def wrong(self, code: str, words: str, below: str = "") -> None:
        """Note that this, or what stands below it, cannot be taken."""
        path = f"{self.path}.{below}" if below else self.path
        self.issues.append(error(code, words, path))

    def __bool__(self) -> bool:
        """Whether anything stands here."""
        return self.value not in (None, "", [], {})


def unread(node: Node) -> list[Issue]:
    """Return a warning for each element that was not read, at the highest place that says it all."""
    # Worked out once, so that a long resource costs by its length and not by its square.
    above = {one[: cut.start()] for one in node.seen for cut in STEP.finditer(one)}
    return [
        warning("not-supported", "There is no place for this here; it was not kept.", path)
        for path in _unread(node.value, node.path, node.seen, above)
    ]


def unbearable(resource: Json, path: str) -> list[Issue]:
    """Return what no element can hold: a list that is too long, a text with the sign NUL in it."""
    found: list[Issue] = []
    waiting: list[tuple[str, Any]] = [(path, resource)]
    while waiting:
        where, value = waiting.pop()
        if isinstance(value, dict):
            waiting += [(f"{where}.{name}", inner) for name, inner in value.items()]
        elif isinstance(value, list) and len(value) > MOST_IN_A_LIST:
            told = f"There are {len(value)} of these; at most {MOST_IN_A_LIST} are taken in."
            found.append(error("too-long", told, where))
        elif isinstance(value, list):
            waiting += [(f"{where}[{place}]", inner) for place, inner in enumerate(value)]
        elif isinstance(value, str) and NUL in value:
            found.append(error("value", "The sign NUL cannot be kept; leave it out.", where))
    return found


def _unread(value: Any, path: str, seen: set[str], above: set[str]) -> list[str]:
    if path in seen:
        return []
    if path not in above or not isinstance(value, dict | list):
        return [path]
    if isinstance(value, dict):
        below = [(f"{path}.{name}", inner) for name, inner in value.items()]
    else:
        below = [(f"{path}[{place}]", inner) for place, inner in enumerate(value)]
    return [found for where, inner in below for found in _unread(inner, where, seen, above)]
