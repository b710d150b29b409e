"""How patients may be reached, what was tried, and what the site's policy makes of it."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Max, QuerySet
from django.utils import timezone

from followup.models.contacts import ContactAttempt, ContactPolicy
from followup.models.reviews import Review, ReviewState
from followup.rules import contact
from followup.rules.contact import NextTry, Policy, Reach, Try
from registry.models.identities import AlternativeContact, Identity
from registry.models.sites import Site
from registry.selectors import choices

Pair = tuple[int, int]
NOBODY = Reach(available=frozenset())


@dataclass(frozen=True)
class Contacts:
    """One patient's ways of contact at one site: whom to ask, by what, and what was tried."""

    reach: Reach
    others: tuple[str, ...]
    attempts: tuple[ContactAttempt, ...]
    declined: Mapping[int, date]

    def of_review(self, review_id: int) -> Reach:
        """Return how the patient may be reached about one review, which they may have declined."""
        return replace(self.reach, declined_on=self.declined.get(review_id))


def policies(site_ids: Collection[int]) -> dict[int, Policy]:
    """Return the policy of each site; where none was set, the one that is shipped."""
    rows = ContactPolicy.objects.filter(site_id__in=site_ids)
    found = {row.site_id: policy_of(row) for row in rows}
    return {site_id: found.get(site_id, Policy()) for site_id in site_ids}


def policy_of(row: ContactPolicy) -> Policy:
    """Return a site's policy as the rules know it."""
    return Policy(**{field.name: getattr(row, field.name) for field in fields(Policy)})


def contacts_of(pairs: Collection[Pair], zones: Mapping[int, ZoneInfo]) -> dict[Pair, Contacts]:
    """Return the contacts of patients at sites, asked by (patient, site), in five queries.

    A try counts from when the patient was last heard of or a way of contact was new. `zones` are the
    sites' time zones: days of tries are the site's.
    """
    patients = {patient for patient, _ in pairs}
    identities = {row.patient_id: row for row in Identity.objects.filter(patient__in=patients)}
    others: dict[int, list[AlternativeContact]] = defaultdict(list)
    for row in AlternativeContact.objects.filter(patient__in=patients):
        others[row.patient_id].append(row)
    refused = _opted_out(patients)
    came = _came(patients)
    attempts = _attempts(pairs)
    return {
        pair: _contacts(
            identities.get(pair[0]),
            others[pair[0]],
            pair[0] in refused,
            came.get(pair),
            attempts[pair],
            zones[pair[1]],
        )
        for pair in pairs
    }


def zones_of(sites: Iterable[Site]) -> dict[int, ZoneInfo]:
    """Return the time zone of each site."""
    return {site.pk: ZoneInfo(site.time_zone) for site in sites}


def pair_of(review: Review) -> Pair:
    """Return whose review at which site this is."""
    return review.procedure.injury.patient_id, review.site_id


def for_reviews(
    reviews: Collection[Review], today: date
) -> tuple[dict[int, Contacts], dict[int, NextTry]]:
    """Return, by review, the contacts of its patient and what the site's policy proposes next.

    The reviews carry their procedure, injury and site.
    """
    sites = {review.site_id: review.site for review in reviews}
    rules = policies(sites)
    found = contacts_of({pair_of(one) for one in reviews}, zones_of(sites.values()))
    contacts = {one.pk: found[pair_of(one)] for one in reviews}
    proposals = {
        one.pk: contact.next_try(rules[one.site_id], contacts[one.pk].of_review(one.pk), today)
        for one in reviews
    }
    return contacts, proposals


def _opted_out(patients: Collection[int]) -> set[int]:
    """Return who does not want to be contacted, by their latest decisions."""
    rows = choices.not_contacted().filter(pk__in=patients)
    return set(rows.values_list("pk", flat=True))


def _came(patients: Collection[int]) -> dict[Pair, date]:
    """Return when each patient last came to a review of a site."""
    rows = (
        Review.objects.filter(procedure__injury__patient__in=patients, state=ReviewState.ATTENDED)
        .order_by()
        .values_list("procedure__injury__patient_id", "site_id")
        .annotate(last=Max("attended_on"))
    )
    return {(patient, site): last for patient, site, last in rows}


def _attempts(pairs: Collection[Pair]) -> dict[Pair, list[ContactAttempt]]:
    found: dict[Pair, list[ContactAttempt]] = defaultdict(list)
    rows: QuerySet[Any] = ContactAttempt.objects.filter(
        patient__in={patient for patient, _ in pairs}, site__in={site for _, site in pairs}
    )
    for row in rows.order_by("tried_at", "id"):
        found[row.patient_id, row.site_id].append(row)
    return found


def _contacts(
    identity: Identity | None,
    others: list[AlternativeContact],
    opted_out: bool,
    came_on: date | None,
    attempts: list[ContactAttempt],
    zone: ZoneInfo,
) -> Contacts:
    days = [(_day(one.tried_at, zone), one) for one in attempts]
    declined = {
        one.review_id: day
        for day, one in days
        if one.outcome == contact.DECLINED and one.review_id is not None
    }
    if identity is None:
        return Contacts(NOBODY, (), tuple(attempts), declined)
    answers = [(day, one) for day, one in days if one.outcome in contact.HEARD]
    marks = [one.tried_at for _, one in answers]
    if identity.contacts_changed_at is not None:
        marks.append(identity.contacts_changed_at)
    since = max(marks, default=None)
    reach = Reach(
        available=contact.available_means(
            phone=identity.phone,
            email=identity.email,
            address=identity.address,
            others=[identity.other_contact_phone, *(one.phone for one in others)],
        ),
        preferred=identity.preferred_means,
        refused=frozenset(identity.refused_means),
        opted_out=opted_out,
        heard_on=max([*(day for day, _ in answers), *([came_on] if came_on else [])], default=None),
        tries=tuple(
            Try(day, one.means, one.outcome)
            for day, one in days
            if (since is None or one.tried_at > since) and (came_on is None or day > came_on)
        ),
    )
    return Contacts(reach, _others_in_words(identity, others), tuple(attempts), declined)


def _others_in_words(identity: Identity, others: list[AlternativeContact]) -> tuple[str, ...]:
    first = f"{identity.other_contact_name} {identity.other_contact_phone}".strip()
    return tuple(filter(None, [first, *(str(one) for one in others)]))


def _day(at: datetime, zone: ZoneInfo) -> date:
    return timezone.localtime(at, zone).date()
