"""Packs of figures: asked for by a person, made by a worker, once, from one snapshot."""

import gzip
import hashlib
import json
from collections.abc import Callable, Collection, Iterator
from datetime import date, datetime
from urllib.parse import parse_qsl

from django.db import transaction
from django.utils import timezone

from analytics.exchange.pack_pages import pdf_of
from analytics.exchange.pack_tables import archive_of
from analytics.figures.documents import document, plain
from analytics.figures.outside import for_outside
from analytics.figures.sections import Section
from analytics.figures.surgeons import shows_surgeons, without_surgeons
from analytics.models.meetings import Meeting
from analytics.models.packs import (
    DOCUMENTS,
    NAMED,
    FileKind,
    Pack,
    PackFile,
    PackSite,
    PackState,
    Surgeons,
)
from analytics.selectors import outcomes, pack_actions, pack_facts, pack_signals
from analytics.selectors.cases import construct_names
from analytics.selectors.cohorts import refuse_foreign_site, refuse_other_surgeon, rule_from
from analytics.selectors.pack_asked import Asked
from analytics.selectors.pack_sections import SECTIONS
from analytics.selectors.visible import sites_of
from analytics.services import releases, snapshots
from registry.errors import BadInput, HoldfastError, IllegalTransition, NotAllowed
from registry.models.people import Person
from registry.models.sites import Site
from registry.selectors.visible import site_ids
from registry.services import jobs, records

WAITING = (PackState.ASKED, PackState.BEING_MADE)
# What the head of each table in the archive need not list: a table names its own definition.
SAID_ELSEWHERE = (
    *("caution", "endpoint", "primary"),
    *("definition", "definition_text", "definition_source"),
)
# What holds an exact count.
COUNTED = ("left_out",)


def ask(
    *,
    sites: Collection[Site],
    address: str,
    for_outside: bool,
    by: Person,
    now: datetime,
    meeting: Meeting | None = None,
) -> Pack:
    """Ask for a pack of a cohort; the same one that still waits is returned instead of a second.

    `address` is the query part of a figures' page. Raises BadInput when it cannot be read, or names
    a site that is not among `sites` or a surgeon whose figures `by` may not see.
    """
    rule = rule_from(_parts(address))
    refuse_foreign_site(rule, sites)
    refuse_other_surgeon(rule, by, sites)
    chosen = [site for site in sites if not rule.site or site.code == rule.site]
    if not chosen:
        raise BadInput({"sites": "A pack needs a site whose figures you may see."})
    with records.change(by=by):
        # The lock makes two who ask at once come one after the other.
        Person.objects.select_for_update(no_key=True).get(pk=by.pk)
        there = Pack.objects.filter(
            meeting=meeting,
            address=rule.address(),
            for_outside=for_outside,
            asked_by=by,
            state__in=WAITING,
        ).first()
        if there is not None:
            return there
        pack = Pack.objects.create(
            meeting=meeting,
            address=rule.address(),
            for_outside=for_outside,
            asked_by=by,
            asked_at=now,
        )
        PackSite.objects.bulk_create(PackSite(pack=pack, site=site) for site in chosen)
    return pack


def ask_again(*, pack: Pack, by: Person) -> None:
    """Put a pack that failed back among those to be made.

    Raises IllegalTransition when it has not failed.
    """
    with records.change(by=by, reason="asked for again"):
        failed = Pack.objects.filter(pk=pack.pk, state=PackState.FAILED)
        if not failed.update(state=PackState.ASKED, reason="", sections_done=0):
            raise IllegalTransition("The pack", present=pack.state, wanted=PackState.ASKED)


def make_waiting(*, now: datetime, today: date) -> dict[str, int]:
    """Make every pack that waits, and what a worker that died left half made; count them.

    One that cannot be made says why, and the next ones are made all the same.
    """
    counted = {"packs made": 0, "failed": 0}
    for pack in _waiting():
        try:
            _make(pack, now=now, today=today)
            counted["packs made"] += 1
        except jobs.LockLost:
            raise
        except Exception as fault:  # noqa: BLE001 - whatever it is, the asker has to be told
            counted["failed"] += 1
            _set(pack, state=PackState.FAILED, reason=jobs.words_for(fault))
        jobs.beat()
    return counted


def content_of(pack: Pack, kind: str) -> bytes:
    """Return a file of a pack.

    Raises ValueError when it does not match its hash any more, BadInput when the pack has none.
    """
    file = PackFile.objects.filter(pack=pack, kind=kind).first()
    if file is None:
        raise BadInput("This pack is not ready.")
    content = bytes(file.content)
    if hashlib.sha256(content).hexdigest() != file.content_hash:
        raise ValueError(f"{file} was changed after it was made")
    return gzip.decompress(content) if kind in DOCUMENTS else content


def _waiting() -> Iterator[Pack]:
    """Yield the packs that wait, the first asked first, one look at a time."""
    done: list[int] = []
    while True:
        rows = Pack.objects.filter(state__in=WAITING).exclude(pk__in=done)
        pack = rows.select_related("asked_by", "meeting", "snapshot").order_by("id").first()
        if pack is None:
            return
        done.append(pack.pk)
        yield pack


def _make(pack: Pack, *, now: datetime, today: date) -> None:
    if pack.snapshot is None:
        pack.snapshot = snapshots.current(now=now, today=today)
        snapshots.keep(snapshot=pack.snapshot, why=f"pack {pack.pk}")
    _set(
        pack,
        state=PackState.BEING_MADE,
        snapshot=pack.snapshot,
        sections_done=0,
        sections_all=len(SECTIONS),
    )
    asked = _asked(pack)
    facts = {
        name: value
        for name, value in outcomes.provenance(asked.view()).items()
        if name not in SAID_ELSEWHERE
    }
    answered = [_step(pack, section, asked, done) for done, section in enumerate(SECTIONS, 1)]
    if pack.for_outside:
        answered, more = _let_out(pack, asked, answered, now)
        facts = {**facts, **more}
        facts = {name: value for name, value in facts.items() if name not in COUNTED}
        first = []
    else:
        first = [
            pack_actions.actions(pack.asked_by, asked.sites, pack.meeting, today),
            pack_signals.signals(pack.asked_by, asked.sites, today),
        ]
    whole = _files(pack, asked, [*first, *answered], archive_of(answered, facts))
    shown = Surgeons.NONE
    if shows_surgeons(answered):
        shown = Surgeons.ALL if _sees_surgeons(pack) else Surgeons.OWN
        others = [without_surgeons(section) for section in answered]
        common = _files(pack, asked, [*first, *others], archive_of(others, facts))
        whole = {**common, **{NAMED[kind]: content for kind, content in whole.items()}}
    _keep(pack, whole, shown, now=now)


def _let_out(
    pack: Pack, asked: Asked, answered: list[Section], now: datetime
) -> tuple[list[Section], dict[str, str]]:
    """Return the sections as they leave the team, and what else is hidden; the ledger knows of it."""
    with records.change(by=pack.asked_by, reason="a pack for outside"):
        permit = releases.permitted(asked.view())
        tables = [
            (table.data, table.shape)
            for section in answered
            for table in section.tables
            if table.shape is not None and table.data
        ]
        what = f"pack {pack.pk}"
        releases.note_pack(permit=permit, tables=tables, what=what, by=pack.asked_by, now=now)
    found = (for_outside(section, permit.hidden) for section in answered)
    more = {"hidden_as_well": permit.words} if permit.words else {}
    return [section for section in found if section is not None], more


def _sees_surgeons(pack: Pack) -> bool:
    """Say whether whoever asked sees all surgeons of the pack's sites, and not only the own point."""
    return {site.pk for site in pack.sites.all()} <= set(site_ids(pack.asked_by, "see_surgeons"))


def _files(
    pack: Pack, asked: Asked, sections: list[Section], tables: bytes
) -> dict[FileKind, bytes]:
    """Return the files of some sections."""
    made = document(
        title=_title(pack),
        sites=[str(site) for site in asked.sites],
        cohort=asked.about.cohort,
        cutoff=asked.snapshot.cutoff,
        facts=pack_facts.facts_of(asked.view(), outside=pack.for_outside),
        sections=sections,
        outside=pack.for_outside,
        codes=construct_names(set(asked.view().data.cases["construct_type"].dropna())),
    )
    text = json.dumps(plain(made), sort_keys=True, separators=(",", ":")).encode()
    return {
        FileKind.PDF: pdf_of(made, timezone.localtime(asked.snapshot.taken_at)),
        FileKind.TABLES: tables,
        FileKind.DOCUMENT: gzip.compress(text, mtime=0),
    }


def _asked(pack: Pack) -> Asked:
    """Gather what a pack is made from, by the rights that its asker has now."""
    own = {site.pk for site in sites_of(pack.asked_by)}
    sites = list(pack.sites.all())
    foreign = [str(site) for site in sites if site.pk not in own]
    if foreign:
        raise NotAllowed(f"Whoever asked for it may not see figures of {', '.join(foreign)} now.")
    if pack.snapshot is None:
        raise HoldfastError("There is no snapshot to make it from.")
    return Asked(
        rule=rule_from(_parts(pack.address)),
        sites=sites,
        snapshot=pack.snapshot,
        frames=snapshots.frames_of(pack.snapshot),
        by=pack.asked_by,
    )


def _step(pack: Pack, section: Callable[[Asked], Section], asked: Asked, done: int) -> Section:
    answered = section(asked)
    _set(pack, sections_done=done)
    jobs.beat()
    return answered


def _keep(pack: Pack, files: dict[FileKind, bytes], surgeons: Surgeons, *, now: datetime) -> None:
    with transaction.atomic():
        PackFile.objects.filter(pack=pack).delete()
        PackFile.objects.bulk_create(
            PackFile(
                pack=pack,
                kind=kind,
                content=content,
                content_hash=hashlib.sha256(content).hexdigest(),
            )
            for kind, content in files.items()
        )
        _set(pack, state=PackState.READY, made_at=now, reason="", surgeons=surgeons)


def _set(pack: Pack, **values: object) -> None:
    with records.change(by=pack.asked_by, reason="made by the worker"):
        Pack.objects.filter(pk=pack.pk).update(**values)


def _title(pack: Pack) -> str:
    if pack.meeting is None:
        return "For the quality meeting"
    return f"For the quality meeting of {pack.meeting.held_on:%d %b %Y}"


def _parts(address: str) -> dict[str, str]:
    return dict(parse_qsl(address))
