"""Who cannot be reached: decided by the site's policy, reversible, and never twice."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice
from typing import Any

from followup.models.contacts import ContactPolicy, Unreachable
from followup.rules import contact
from followup.rules.contact import Verdict
from followup.selectors import contacts as selector
from followup.selectors.contacts import Contacts, Pair
from followup.selectors.due import in_sight_pairs
from registry.errors import BadInput
from registry.models.patients import Patient
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records, setup

AT_ONCE = 500
NEW_CONTACT = "a new way of contact became known"


@dataclass(frozen=True)
class Decided:
    """For how many patients it was decided that they cannot be reached, and how many are back."""

    lost: int
    back: int


def save_policy(
    *, policy: ContactPolicy, values: Mapping[str, Any], expected_version: int, by: Person
) -> ContactPolicy:
    """Set how a site tries to reach its patients, over the version that the user saw.

    Raises BadInput when a number makes no sense, StaleVersion when somebody changed it first.
    """
    if values["means"] > values["attempts"]:
        raise BadInput({"means": "There cannot be more different means than tries."})
    if values["attempts"] > 1 and values["over_days"] < values["days_between"]:
        raise BadInput(
            {"over_days": "These are fewer days than lie between two tries; take more days."}
        )
    return setup.save_versioned(policy, values, expected_version=expected_version, by=by)


def decide(*, patient: Patient, site: Site, by: Person, now: datetime, today: date) -> Decided:
    """Hold one patient against the site's policy; deciding twice changes nothing."""
    return _decide({(patient.pk, site.pk)}, {site.pk: site}, by, now, today)


def decide_all(*, by: Person, now: datetime, today: date) -> Decided:
    """Hold everybody who is due, and everybody who could not be reached, against the policies."""
    sites = {site.pk: site for site in Site.objects.filter(is_active=True)}
    lost = back = 0
    for some in _batches(_pairs(sites, today)):
        done = _decide(some, sites, by, now, today)
        lost, back = lost + done.lost, back + done.back
    return Decided(lost, back)


def bring_back(*, patient: Patient, because: str, by: Person, now: datetime, today: date) -> int:
    """Return a patient to every list that they had left; return how many verdicts were ended."""
    rows = list(Unreachable.objects.filter(patient=patient, ended_on__isnull=True))
    for row in rows:
        _end(row, because, by, now, today)
    return len(rows)


def _pairs(sites: Collection[int], today: date) -> Iterator[Pair]:
    standing = Unreachable.objects.filter(ended_on__isnull=True, site__in=sites)
    yield from standing.values_list("patient_id", "site_id").iterator(chunk_size=AT_ONCE)
    yield from in_sight_pairs(sites, today)


def _batches(pairs: Iterable[Pair]) -> Iterator[set[Pair]]:
    waiting = iter(pairs)
    while some := set(islice(waiting, AT_ONCE)):
        yield some


def _decide(
    pairs: set[Pair], sites: Mapping[int, Site], by: Person, now: datetime, today: date
) -> Decided:
    rules = selector.policies(sites)
    contacts = selector.contacts_of(pairs, selector.zones_of(sites.values()))
    standing = {
        (row.patient_id, row.site_id): row
        for row in Unreachable.objects.filter(
            patient__in={patient for patient, _ in pairs}, ended_on__isnull=True
        )
    }
    lost = back = 0
    for pair in sorted(pairs):
        verdict = contact.next_try(rules[pair[1]], contacts[pair].reach, today)
        row = standing.get(pair)
        if verdict.verdict is Verdict.CANNOT and row is None:
            _lose(pair, verdict.words, by, now, today)
            lost += 1
        elif verdict.verdict is not Verdict.CANNOT and row is not None:
            _end(row, _why_back(contacts[pair], row, today), by, now, today)
            back += 1
    return Decided(lost, back)


def _why_back(contacts: Contacts, row: Unreachable, today: date) -> str:
    heard = contacts.reach.heard_on
    if heard is not None and heard >= row.since:
        return f"heard of on {heard:%d %b %Y}"
    if contacts.reach.opted_out:
        return "does not want to be contacted"
    if (today - row.since).days > contact.SPELL_DAYS:
        return "the last tries are long ago; to be tried anew"
    return "the policy or the ways of contact are others now"


def _lose(pair: Pair, reason: str, by: Person, now: datetime, today: date) -> None:
    row = Unreachable(patient_id=pair[0], site_id=pair[1], since=today, reason=reason[:300])
    try:
        records.create(row, by=by, now=now)
    except BadInput:
        # Somebody else was quicker; the constraint lets one verdict stand.
        if not Unreachable.objects.filter(
            patient_id=pair[0], site_id=pair[1], ended_on__isnull=True
        ).exists():
            raise


def _end(row: Unreachable, because: str, by: Person, now: datetime, today: date) -> None:
    values = {"ended_on": max(today, row.since), "ended_because": because[:200]}
    records.save(row, values, by=by, now=now, expected_version=row.version, reason=because)
