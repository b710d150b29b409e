"""Which protocol applies to an operation, and what the set-up shows of protocols."""

from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import date

from django.db.models import Q

from followup.models.protocols import Protocol, ProtocolPurpose, ProtocolStep, ProtocolVersion
from followup.rules.steps import StepFacts
from followup.selectors.visible import visible
from registry.models.sites import Site
from registry.selectors.history import entries_about, in_words
from registry.selectors.visible import Viewer, site_ids


@dataclass(frozen=True)
class VersionLine:
    """One version and how it stands today: in force, to come, or replaced."""

    version: ProtocolVersion
    standing: str
    in_force: bool


@dataclass(frozen=True)
class ProtocolLine:
    """One protocol, what it applies to, its versions with the newest first, and who may change it."""

    protocol: Protocol
    applies_to: str
    versions: tuple[VersionLine, ...]
    may_change: bool


def version_for(
    *, site_id: int, construct_type_id: int | None, purpose: str, on: date
) -> ProtocolVersion | None:
    """Return the version in force: of the site and construct type, the site, the type, or default."""
    rows = protocols_for(site_id=site_id, construct_type_id=construct_type_id, purpose=purpose)
    return version_in_force(rows, on)


def protocols_for(
    *, site_id: int, construct_type_id: int | None, purpose: str
) -> tuple[Protocol, ...]:
    """Return the protocols that may apply, with versions and steps, the one that goes first first."""
    candidates = list(
        Protocol.objects.filter(
            Q(site_id=site_id) | Q(site__isnull=True),
            Q(construct_type_id=construct_type_id) | Q(construct_type__isnull=True),
            purpose=purpose or ProtocolPurpose.FIXATION,
        ).prefetch_related("versions__steps")
    )
    candidates.sort(
        key=lambda row: (row.site_id is not None, row.construct_type_id is not None), reverse=True
    )
    return tuple(candidates)


def version_in_force(protocols: Iterable[Protocol], on: date) -> ProtocolVersion | None:
    """Return the version in force on a day, of the first protocol that has one."""
    for protocol in protocols:
        begun = [one for one in protocol.versions.all() if one.effective_from <= on]
        if begun:
            return max(begun, key=lambda one: (one.effective_from, one.number))
    return None


def protocol_lines(user: Viewer, today: date) -> list[ProtocolLine]:
    """Return the protocols that a person may see in the set-up, whatever their number by the same
    few queries.
    """
    rows = visible(user, Protocol, "set_up").select_related("site", "construct_type")
    mine, whole = set(site_ids(user, "set_up")), sets_up_every_site(user)
    lines = [
        ProtocolLine(
            protocol,
            applies_to(protocol),
            tuple(_version_lines(protocol.versions.all(), today)),
            whole if protocol.site_id is None else protocol.site_id in mine,
        )
        for protocol in rows.prefetch_related("versions")
    ]
    return sorted(lines, key=lambda line: (line.protocol.purpose, line.protocol.name))


def applies_to(protocol: Protocol) -> str:
    """Say which operations a protocol is for."""
    where = f"at {protocol.site}" if protocol.site else "at every site without its own"
    if protocol.construct_type:
        return f"{protocol.construct_type}, {where}"
    return f"every construct without its own, {where}"


def may_change(user: Viewer, protocol: Protocol) -> bool:
    """Say whether a person may make a version: a shared protocol is changed for every site."""
    if protocol.site_id is None:
        return sets_up_every_site(user)
    return protocol.site_id in site_ids(user, "set_up")


def sets_up_every_site(user: Viewer) -> bool:
    """Say whether a person administers every site that is in use."""
    mine = site_ids(user, "set_up")
    return bool(mine) and not Site.objects.filter(is_active=True).exclude(pk__in=mine).exists()


def version_before(version: ProtocolVersion) -> ProtocolVersion | None:
    """Return the version that a version followed, with its steps."""
    earlier = ProtocolVersion.objects.filter(
        protocol_id=version.protocol_id, number__lt=version.number
    )
    return earlier.order_by("-number").prefetch_related("steps").first()


def standing_of(version: ProtocolVersion, today: date) -> VersionLine:
    """Say how one version stands among those of its protocol."""
    every = ProtocolVersion.objects.filter(protocol_id=version.protocol_id)
    return next(line for line in _version_lines(every, today) if line.version == version)


def maker_of(version: ProtocolVersion) -> str:
    """Return who made a version, as the trail has it."""
    entries = entries_about({version._meta.db_table: {str(version.pk)}}).filter(action="insert")[:1]
    return next((change.who for change in in_words(entries)), "not known")


def steps_of(version: ProtocolVersion | None) -> tuple[StepFacts, ...]:
    """Return the steps of a version as plain values; of none, no steps."""
    return tuple(facts_of(step) for step in version.steps.all()) if version is not None else ()


def facts_of(step: ProtocolStep) -> StepFacts:
    """Return the plain values of a step."""
    values = {field.name: getattr(step, field.name) for field in fields(StepFacts)}
    names = ("film_views", "scores", "free_items", "milestones")
    lists = {name: tuple(values[name]) for name in names}
    return StepFacts(**{**values, **lists})


def _version_lines(versions: Iterable[ProtocolVersion], today: date) -> list[VersionLine]:
    begun = [one for one in versions if one.effective_from <= today]
    in_force = max(begun, key=lambda one: (one.effective_from, one.number), default=None)
    return [
        VersionLine(one, _standing(one, in_force, today), one == in_force)
        for one in sorted(versions, key=lambda one: -one.number)
    ]


def _standing(version: ProtocolVersion, in_force: ProtocolVersion | None, today: date) -> str:
    if version == in_force:
        return "in force"
    return "to come" if version.effective_from > today else "replaced"
