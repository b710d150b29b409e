"""The invented hospitals with their people and clinics."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from analytics.services import definitions
from analytics.simulation import setting
from followup.models import Clinic
from registry.models import Person, Site
from registry.services import setup

PRIMARY_DEFINITION = "rise-3mm"
IN_OFFICE_DAYS = 60
# The valley does not exist, so it keeps the holidays of a country that does.
OF_EVERY_SITE = {
    "telephone": "0555 010 2000",
    "holiday_country": "GB",
    "holiday_subdivision": "ENG",
}


@dataclass(frozen=True)
class Staff:
    """Sites in the order of the setting, people by user name, clinics by site and weekday."""

    sites: tuple[Site, ...]
    people: dict[str, Person]
    clinics: dict[tuple[int, int], tuple[Clinic, ...]]

    def surgeon(self, site: int, number: int) -> Person:
        """Return the surgeon to whom a case's number at a site points."""
        return self.people[setting.surgeons(site)[number]]

    def reader(self, number: int) -> Person:
        """Return the film reader to whom a reading's number points."""
        return self.people[setting.readers()[number]]

    @property
    def coordinator(self) -> Person:
        """The coordinator, who typed what is not a surgeon's."""
        return self.people["coordinator"]


def open_service(count: int, *, years: int, now: datetime, today: date) -> Staff:
    """Open so many invented hospitals, in office since before their first operation.

    Every person has the demo's open password.
    """
    sites = tuple(
        setup.save_site(
            site=Site(),
            values={"code": one.code, "name": one.name, **OF_EVERY_SITE},
            expected_version=1,
            by=None,
            now=now,
            today=today,
        )
        for one in setting.sites(count)
    )
    since = today - timedelta(days=366 * years + IN_OFFICE_DAYS)
    people = _people(count, {site.code: site for site in sites}, since)
    for site in sites:
        definitions.choose_definition(
            site=site,
            definition_id=PRIMARY_DEFINITION,
            on=since,
            by=people["quality"],
        )
    return Staff(sites, people, _clinics(count, sites, people))


def _people(count: int, sites: dict[str, Site], since: date) -> dict[str, Person]:
    people = {}
    for one in setting.people(count):
        person = setup.add_person(
            username=one.username,
            shown_name=one.shown_name,
            email=f"{one.username}@staff.invalid",
            password=setting.PASSWORD,
            by=None,
        )
        for code in one.sites:
            if code in sites:
                setup.grant_role(
                    person=person, site=sites[code], role=one.role, starts_on=since, by=None
                )
        people[one.username] = person
    return people


def _clinics(
    count: int, sites: tuple[Site, ...], people: dict[str, Person]
) -> dict[tuple[int, int], tuple[Clinic, ...]]:
    numbers = {site.code: number for number, site in enumerate(sites)}
    by_code = {site.code: site for site in sites}
    found: dict[tuple[int, int], tuple[Clinic, ...]] = {}
    for one in setting.clinics(count):
        clinic = Clinic.objects.create(
            site=by_code[one.site],
            name=one.name,
            weekday=one.weekday,
            starts_at=time.fromisoformat(one.starts_at),
            slots=one.slots,
            slot_minutes=one.slot_minutes,
            surgeon=people[one.surgeon],
        )
        key = (numbers[one.site], one.weekday)
        found[key] = (*found.get(key, ()), clinic)
    return found
