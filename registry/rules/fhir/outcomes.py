"""OperationOutcome: what was wrong or not understood, where, and what to do about it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from registry.errors import HoldfastError
from registry.rules.fhir.elements import Json, compact

# The one sign of a text that no database of ours takes.
NUL = "\x00"
FATAL, ERROR, WARNING, INFORMATION = "fatal", "error", "warning", "information"


@dataclass(frozen=True)
class Issue:
    """One remark. `code` is an issue type of R4; `expression` says where, as a FHIRPath."""

    severity: str
    code: str
    words: str
    expression: str = ""

    def written(self) -> Json:
        """Return it as an OperationOutcome has it."""
        return compact(
            {
                "severity": self.severity,
                "code": self.code,
                "diagnostics": self.words,
                "expression": [self.expression] if self.expression else [],
            }
        )


class Refused(HoldfastError):
    """A request that is not done; every issue says where and why."""

    def __init__(self, issues: Sequence[Issue], status: int = 400) -> None:
        """Take all that is wrong at once, and the HTTP status that says so."""
        self.issues = tuple(issues)
        self.status = status
        super().__init__("; ".join(f"{one.expression}: {one.words}".lstrip(": ") for one in issues))


def error(code: str, words: str, expression: str = "") -> Issue:
    """Return an issue for which nothing was done."""
    return Issue(ERROR, code, words, expression)


def warning(code: str, words: str, expression: str = "") -> Issue:
    """Return an issue in spite of which it was done."""
    return Issue(WARNING, code, words, expression)


def refused(code: str, words: str, expression: str = "", *, status: int = 400) -> Refused:
    """Return a refusal for one reason."""
    return Refused([error(code, words, expression)], status)


def outcome(issues: Iterable[Issue]) -> Json:
    """Return an OperationOutcome; without issues one that says that all is well."""
    listed = [one.written() for one in issues]
    well = Issue(INFORMATION, "informational", "All is well.").written()
    return {"resourceType": "OperationOutcome", "issue": listed or [well]}
