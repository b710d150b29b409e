"""Looking through every rule about the records, at one moment of the database and without writing."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from itertools import islice

from analytics.services import invariants as of_figures
from followup.services import (
    film_invariants,
    import_invariants,
    message_invariants,
    review_invariants,
)
from registry.errors import BadInput
from registry.services import (
    patient_invariants,
    row_invariants,
    trail_invariants,
    work_invariants,
)
from registry.services.invariants import Breach, Invariant, Looking
from registry.services.moments import one_moment

INVARIANTS: tuple[Invariant, ...] = (
    *trail_invariants.INVARIANTS,
    *row_invariants.INVARIANTS,
    *patient_invariants.INVARIANTS,
    *work_invariants.INVARIANTS,
    *review_invariants.INVARIANTS,
    *message_invariants.INVARIANTS,
    *import_invariants.INVARIANTS,
    *film_invariants.INVARIANTS,
    *of_figures.INVARIANTS,
)
# Of each rule so many breaches are told; the rest are counted.
TOLD = 20
COUNTED_TO = 100_000
HOLD, BREACHES = "rules that hold", "breaches of"


@dataclass(frozen=True)
class Finding:
    """What was found about one rule: how many breaches, and the first of them."""

    invariant: Invariant
    number: int
    first: tuple[Breach, ...]

    @property
    def holds(self) -> bool:
        """Say whether nothing breaks the rule."""
        return self.number == 0


def chosen(names: Collection[str]) -> list[Invariant]:
    """Return the rules of these names, all where none is given. Raises BadInput for an unknown one."""
    known = {one.name: one for one in INVARIANTS}
    unknown = sorted(set(names) - known.keys())
    if unknown:
        raise BadInput(f"There is no rule {', '.join(unknown)}; there are {', '.join(known)}.")
    return [known[name] for name in names] if names else list(INVARIANTS)


def look_through(
    looking: Looking,
    invariants: Collection[Invariant] = INVARIANTS,
    told: Callable[[Finding], object] = lambda finding: None,
) -> list[Finding]:
    """Look through the rules at one moment; nothing is written, and writers are not held up."""
    findings = []
    with one_moment():
        for invariant in invariants:
            finding = _look(invariant, looking)
            told(finding)
            findings.append(finding)
    return findings


def counted(findings: Collection[Finding]) -> dict[str, int]:
    """Return what a run of the background writes down: rules that hold, and breaches of each other."""
    breaches = {f"{BREACHES} {one.invariant.name}": one.number for one in findings if not one.holds}
    return {HOLD: len(findings) - len(breaches), **breaches}


def worries(counts: Mapping[str, object]) -> str:
    """Say which rules a run found broken, by what it wrote down; '' where all held."""
    names = broken(counts)
    return f"{', '.join(names)}: run verify_records, which names the rows" if names else ""


def broken(counts: Mapping[str, object]) -> list[str]:
    """Return the rules that a run found broken, by what it wrote down."""
    return [name.removeprefix(BREACHES).strip() for name in counts if name.startswith(BREACHES)]


def _look(invariant: Invariant, looking: Looking) -> Finding:
    breaches = invariant.breaches(looking)
    first = tuple(islice(breaches, TOLD))
    more = sum(1 for _ in islice(breaches, COUNTED_TO))
    return Finding(invariant, len(first) + more, first)
