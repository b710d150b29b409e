"""Which notices there are, and which of them a part is about."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, Q, QuerySet

from registry.models.constructs import Part
from registry.models.implants import ImplantModel
from registry.models.safety_notices import NoticeScope, SafetyNotice
from registry.rules import batches
from registry.rules.notice_matching import (
    Certainty,
    Match,
    PartFacts,
    Scope,
    article_key,
    match,
)

MOST_SURE = {Certainty.CERTAIN: 0, Certainty.NEAR: 1, Certainty.NOT_EXCLUDED: 2}


@dataclass(frozen=True)
class NoticeMatch:
    """A notice that is, or may be, about a part: how sure that is, and why in words."""

    notice: SafetyNotice
    certainty: Certainty
    words: str

    @property
    def is_certain(self) -> bool:
        """Say whether the part is surely one that the notice is about."""
        return self.certainty is Certainty.CERTAIN


def in_force() -> "QuerySet[SafetyNotice]":
    """Return the notices that were not withdrawn by whoever issued them, with their lines."""
    lines = Prefetch("scopes", NoticeScope.objects.order_by("id"))
    return SafetyNotice.objects.filter(withdrawn_on__isnull=True).prefetch_related(lines)


def notices_about(
    *,
    device_identifier: str = "",
    catalogue_number: str = "",
    batch: str = "",
    serial: str = "",
    expires_on: date | None = None,
) -> list[NoticeMatch]:
    """Return the notices in force that are, or may be, about a part; the surest come first.

    A notice that every site has closed is among them while it is in force: the next part of a
    recalled batch is recalled as well.
    """
    notices = list(in_force())
    if not notices:
        return []
    others = _others_of(device_identifier)
    facts = PartFacts(device_identifier, catalogue_number, batch, serial, expires_on, others)
    found = [(notice, match_of(scopes_of(notice), facts)) for notice in notices]
    about = [NoticeMatch(one, said.certainty, said.words) for one, said in found if said]
    return sorted(about, key=lambda one: MOST_SURE[one.certainty])


def scopes_of(notice: SafetyNotice) -> list[Scope]:
    """Return what a notice is about, line by line, as the rules take it."""
    return [scope_of(line) for line in notice.scopes.all()]


def scope_of(line: NoticeScope) -> Scope:
    """Return one line of a notice as the rules take it."""
    return Scope(
        device_identifier=line.device_identifier,
        catalogue_number=line.catalogue_number,
        batch=batches.span(line.batch_first, line.batch_last) if line.batch_first else None,
        serial=batches.span(line.serial_first, line.serial_last) if line.serial_first else None,
        expires=(line.expires_from, line.expires_to)
        if line.expires_from and line.expires_to
        else None,
    )


def match_of(scopes: Iterable[Scope], facts: PartFacts) -> Match | None:
    """Return the surest match of a part with any of some lines."""
    return surest([said for scope in scopes if (said := match(scope, facts))])


def surest(said: Sequence[Match]) -> Match | None:
    """Return the surest of some matches, the first of equals."""
    return min(said, key=lambda one: MOST_SURE[one.certainty], default=None)


def _others_of(device_identifier: str) -> tuple[str, ...]:
    key = article_key(device_identifier)
    article = ImplantModel.objects.filter(device_key=key).first() if key else None
    return other_identifiers(article) if article else ()


def other_identifiers(article: ImplantModel) -> tuple[str, ...]:
    """Return by which further device identifiers the same article is listed."""
    first = article.same_as_id or article.pk
    rows = ImplantModel.objects.filter(Q(pk=first) | Q(same_as=first)).exclude(pk=article.pk)
    found = rows.exclude(device_identifier="").order_by("pk")
    return tuple(found.values_list("device_identifier", flat=True))


def others_of(articles: Collection[ImplantModel]) -> dict[int, tuple[str, ...]]:
    """Return the further device identifiers of some articles by their row, in one query."""
    firsts = {article.same_as_id or article.pk for article in articles}
    rows = ImplantModel.objects.filter(Q(pk__in=firsts) | Q(same_as__in=firsts)) if firsts else ()
    alike: dict[int, list[ImplantModel]] = {}
    for row in sorted(rows, key=lambda one: one.pk):
        if row.device_identifier:
            alike.setdefault(row.same_as_id or row.pk, []).append(row)
    return {
        article.pk: tuple(
            row.device_identifier
            for row in alike.get(article.same_as_id or article.pk, [])
            if row.pk != article.pk
        )
        for article in articles
    }


def facts_of(part: Part, known: dict[int, tuple[str, ...]] | None = None) -> PartFacts:
    """Return what is recorded of a part, with its article.

    `known` keeps the further identifiers of articles from one part to the next.
    """
    article = part.implant_model
    others = {} if known is None else known
    if article.pk not in others:
        others[article.pk] = other_identifiers(article)
    return PartFacts(
        device_identifier=article.device_identifier,
        catalogue_number=article.catalogue_number,
        batch=part.batch,
        serial=part.serial,
        expires_on=part.expires_on,
        other_identifiers=others[article.pk],
    )
