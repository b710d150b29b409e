"""Who carries an implant: the parts that are, may be, or cannot be excluded from being what is sought."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import reduce
from itertools import product
from operator import and_, or_
from typing import Any

from django.db.models import Case, CharField, Count, Exists, OuterRef, Q, QuerySet, Value, When

from registry.models.constructs import Part
from registry.models.implants import ImplantModel
from registry.models.patients import PatientStatus
from registry.models.procedures import Procedure, ProcedureKind
from registry.rules import batches
from registry.rules.notice_matching import Certainty, Scope, article_key, judge
from registry.rules.trace_grades import GRADES, grade
from registry.selectors.visible import Viewer, site_ids, visible

NOTHING = Q(pk__in=())
# So many models are named one by one, which leads straight to their parts.
FEW_MODELS = 1000
# Where a part is, by what is recorded; the first that holds counts.
PLACES = {
    "removed": "removed",
    "died": "died",
    "withdrawn": "withdrew",
    "unknown": "not known: revised since",
    "in_place": "in place",
}


@dataclass(frozen=True)
class Question:
    """What is sought: marks of a part, words of its model, and where and when it was implanted."""

    scope: Scope = field(default_factory=Scope)
    kind: str = ""
    words: str = ""
    sites: tuple[int, ...] = ()
    operated_from: date | None = None
    operated_to: date | None = None

    @property
    def is_empty(self) -> bool:
        """Say whether nothing is asked about the part itself."""
        return self.scope.is_empty and not (self.kind or self.words)


@dataclass(frozen=True)
class SiteCount:
    """How many parts a site has of what was found, by where they are."""

    site: str
    places: dict[str, int]

    @property
    def total(self) -> int:
        """Return how many there are in all."""
        return sum(self.places.values())


def answers(user: Viewer, question: Question) -> "dict[Certainty, QuerySet[Any]]":
    """Return the parts of a person's sites that answer a question, by how sure that is."""
    asked, mine = _asked(question.scope), site_ids(user, "trace")
    rows = visible(user, Part, "trace")
    return {
        one: _elsewise(rows.filter(_fits(question.scope, asked, one)), question, mine)
        for one in Certainty
    }


def parts_of(user: Viewer, question: Question, certainty: Certainty) -> "QuerySet[Any]":
    """Return the parts of a person's sites that answer a question with some certainty."""
    return answers(user, question)[certainty]


def _elsewise(rows: "QuerySet[Any]", question: Question, mine: Sequence[int]) -> "QuerySet[Any]":
    """Narrow by what is exact: the model's kind and words, the site, the day."""
    if question.kind:
        rows = rows.filter(implant_model__kind=question.kind)
    for word in question.words.split():
        rows = rows.filter(implant_model__description__icontains=word)
    if question.sites:
        rows = rows.filter(site_id__in=[one for one in question.sites if one in mine])
    if question.operated_from:
        rows = rows.filter(construct__procedure__performed_on__gte=question.operated_from)
    if question.operated_to:
        rows = rows.filter(construct__procedure__performed_on__lte=question.operated_to)
    return rows


def with_places(rows: "QuerySet[Any]") -> "QuerySet[Any]":
    """Add to each part where it is by what is recorded: `place`, a key of PLACES.

    A removal names the operation whose construct it removed. After a revision nobody recorded what
    of the construct before it was left in: that is not known, and not called removed.
    """
    later = Procedure.objects.filter(revises=OuterRef("construct__procedure"))
    removed = Exists(later.filter(kind=ProcedureKind.IMPLANT_REMOVAL))
    revised = Exists(later.filter(kind=ProcedureKind.REVISION_FIXATION))
    status = "construct__procedure__injury__patient__status"
    place = Case(
        When(removed, then=Value("removed")),
        When(Q(**{status: PatientStatus.DIED}), then=Value("died")),
        When(Q(**{status: PatientStatus.WITHDRAWN}), then=Value("withdrawn")),
        When(revised, then=Value("unknown")),
        default=Value("in_place"),
        output_field=CharField(),
    )
    found: QuerySet[Any] = rows.annotate(place=place)
    return found


def counts(rows: "QuerySet[Any]") -> list[SiteCount]:
    """Count parts by site and by where they are."""
    lines = with_places(rows).order_by().values("site__name", "place").annotate(number=Count("pk"))
    found: dict[str, dict[str, int]] = {}
    for line in lines:
        of_site = found.setdefault(line["site__name"], dict.fromkeys(PLACES, 0))
        of_site[line["place"]] += line["number"]
    return [SiteCount(name, places) for name, places in sorted(found.items())]


@dataclass(frozen=True)
class GradeCell:
    """How many parts have one trace grade, and their share in whole per cent."""

    number: int
    share: int


@dataclass(frozen=True)
class GradeRow:
    """The parts of one site or construct type by how far they can be traced."""

    name: str
    cells: list[GradeCell]
    total: int


def grades_of(user: Viewer) -> list[tuple[str, list[GradeRow]]]:
    """Return how far the parts of a person's sites can be traced, by site and by construct type."""
    rows = visible(user, Part, "trace").order_by()
    return [
        ("site", _graded(rows, "site__name")),
        ("construct type", _graded(rows, "construct__construct_type__name")),
    ]


def _graded(rows: "QuerySet[Any]", by: str) -> list[GradeRow]:
    marks = ("device_identifier", "catalogue_number")
    known = {
        name: Case(When(Q(**{f"implant_model__{name}": ""}), then=0), default=1) for name in marks
    }
    numbered = Case(When(Q(batch="") & Q(serial=""), then=0), default=1)
    lines = (
        rows.annotate(device=known[marks[0]], catalogue=known[marks[1]], numbered=numbered)
        .values_list(by, "device", "catalogue", "numbered")
        .annotate(number=Count("pk"))
    )
    found: dict[str, dict[str, int]] = {}
    for name, device, catalogue, has_number, number in lines:
        traced = grade(
            device_identifier="x" * device,
            catalogue_number="x" * catalogue,
            batch="x" * has_number,
        )
        of_name = found.setdefault(name, dict.fromkeys(GRADES, 0))
        of_name[traced] += number
    return [_grade_row(name, numbers) for name, numbers in sorted(found.items())]


def _grade_row(name: str, numbers: dict[str, int]) -> GradeRow:
    total = sum(numbers.values())
    cells = [GradeCell(number, round(100 * number / total)) for number in numbers.values()]
    return GradeRow(name, cells, total)


def in_detail(rows: "QuerySet[Any]") -> "QuerySet[Any]":
    """Return parts with all that a list says of them, the latest operation first."""
    injury = "construct__procedure__injury"
    return (
        with_places(rows)
        .select_related("site", "implant_model", "construct__construct_type", f"{injury}__patient")
        .order_by("-construct__procedure__performed_on", "-pk")
    )


def removals_of(parts: Sequence[Any]) -> dict[int, Procedure]:
    """Return the first removal of each part's construct, by the operation that implanted it."""
    operations = {part.construct.procedure_id for part in parts}
    rows = Procedure.objects.filter(revises__in=operations, kind=ProcedureKind.IMPLANT_REMOVAL)
    found: dict[int, Procedure] = {}
    for row in rows.order_by("performed_on", "pk"):
        found.setdefault(int(row.revises_id or 0), row)
    return found


def candidates(scopes: Sequence[Scope]) -> "QuerySet[Any]":
    """Return every live part of any site that any of some lines may be about, however surely."""
    wanted = [_fits(scope, _asked(scope), one) for scope in scopes for one in Certainty]
    return Part.objects.filter(_any(wanted)).select_related("implant_model")


def _fits(scope: Scope, asked: dict[str, dict[str, Q]], certainty: Certainty) -> Q:
    """Return the condition that a part matches a scope with this certainty and no other.

    Of each thing asked for a part has one of a few verdicts; `judge` says what they come to.
    """
    if scope.is_empty:
        return ~NOTHING if certainty is Certainty.CERTAIN else NOTHING
    names = list(asked)
    ways = []
    for verdicts in product(*(asked[name] for name in names)):
        if judge(dict(zip(names, verdicts, strict=True))) is certainty:
            parts = [asked[name][said] for name, said in zip(names, verdicts, strict=True)]
            ways.append(reduce(and_, parts))
    return _any(ways)


def _asked(scope: Scope) -> dict[str, dict[str, Q]]:
    """Return, for each thing asked for, the condition of each verdict but that it is another."""
    found: dict[str, dict[str, Q]] = {}
    if scope.names_article:
        found["article"] = _article(scope)
    if scope.batch:
        found["batch"] = _number("batch", scope.batch)
    if scope.serial:
        found["serial"] = _number("serial", scope.serial)
    if scope.expires:
        missing = Q(expires_on__isnull=True)
        found["expiry"] = {"same": Q(expires_on__range=scope.expires), "missing": missing}
    return found


def _article(scope: Scope) -> dict[str, Q]:
    """Sort the models first: there are few, and their keys lead straight to their parts."""
    device, catalogue = (
        article_key(scope.device_identifier),
        article_key(scope.catalogue_number),
    )
    known = [(key, name) for key, name in ((device, "device"), (catalogue, "catalogue")) if key]
    either = _any([Q(**{f"{name}_key": key}) for key, name in known])
    models = ImplantModel.objects.filter(either).values_list("pk", "device_key", "catalogue_key")
    same: list[int] = []
    half: list[int] = []
    for pk, has_device, has_catalogue in models:
        pairs = ((device, has_device), (catalogue, has_catalogue))
        agrees = all(one == other for one, other in pairs if one and other)
        (same if agrees else half).append(pk)
    half += _joined(device, {*same, *half})
    near = Q(implant_model_id__in=half)
    return {
        "same": Q(implant_model_id__in=same),
        "near": near,
        "missing": _unnumbered([name for _, name in known]) & ~near,
    }


def _joined(device: str, direct: set[int]) -> list[int]:
    """Return the models of the same article as one with this device identifier, by other rows."""
    if not device or not direct:
        return []
    bearers = ImplantModel.objects.filter(device_key=device)
    firsts = [first or pk for pk, first in bearers.values_list("pk", "same_as_id")]
    rows = ImplantModel.objects.filter(Q(pk__in=firsts) | Q(same_as__in=firsts))
    return list(rows.exclude(pk__in=direct).values_list("pk", flat=True))


def _unnumbered(names: Sequence[str]) -> Q:
    """Return the condition that none of the numbers asked for is recorded of a part's model."""
    rows = ImplantModel.objects.filter(**{f"{name}_key": "" for name in names})
    models = list(rows.order_by().values_list("pk", flat=True)[: FEW_MODELS + 1])
    if len(models) <= FEW_MODELS:
        return Q(implant_model_id__in=models)
    return Q(**{f"implant_model__{name}_key": "" for name in names})


def _number(column: str, wanted: batches.Span) -> dict[str, Q]:
    """Return the conditions of a batch or serial; what `batches` says row by row, said to a database."""
    folded, order, alike = f"{column}_folded", f"{column}_ordered", f"{column}_alike"
    recorded = ~Q(**{folded: ""})
    if wanted.is_one:
        same = Q(**{folded: batches.folded(wanted.first)})
    else:
        ends = (batches.order_key(wanted.first), batches.order_key(wanted.last))
        same = Q(**{f"{order}__range": ends}) & recorded
    keys = (batches.alike_key(wanted.first), batches.alike_key(wanted.last))
    near = Q(**{f"{alike}__range": keys})
    for start in batches.starts(wanted):
        near |= Q(**{f"{folded}__range": start, f"{folded}__regex": batches.run_on(wanted)})
    label = batches.whole_label(wanted)
    near |= Q(**{f"{folded}__range": batches.LABEL_STARTS, f"{folded}__regex": label})
    return {"same": same, "near": near & ~same & recorded, "missing": ~recorded}


def _any(ways: Sequence[Q]) -> Q:
    return reduce(or_, ways) if ways else NOTHING
