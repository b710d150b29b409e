"""The invented hospital of the rehearsal: people, clinics, holidays, all set up as one would."""

from dataclasses import dataclass
from datetime import date, datetime, time

from followup.models import Clinic
from followup.models.questionnaires import QuestionnaireSetup
from followup.rules.reminding import EXPIRY_DAYS, REMINDER_DAYS
from followup.services import calendars, questionnaires
from registry.models import Person, Site
from registry.services import setup
from registry.services.background import background_person

NAME, CODE, ZONE = "Rehearsal Hospital", "rehearsal", "Europe/London"
# Monday is 0.
CLINIC_ON = (1, 3)
IN_OFFICE_SINCE = date(2020, 1, 1)
ROLES = {"coordinator": "coordinator", "surgeon": "surgeon", "administrator": "administrator"}


@dataclass(frozen=True)
class Stage:
    """The hospital and who works there."""

    site: Site
    coordinator: Person
    surgeon: Person
    administrator: Person


def build(*, start: date, now: datetime) -> Stage:
    """Open the hospital with two clinics a week; nobody there can sign in."""
    by = background_person()
    site = setup.save_site(
        site=Site(),
        values={
            "code": CODE,
            "name": NAME,
            "telephone": "0000 555 0100",
            "time_zone": ZONE,
            "holiday_country": "GB",
        },
        expected_version=1,
        by=by,
        now=now,
        today=start,
    )
    people = {name: _person(name, site, by) for name in ROLES}
    for number, weekday in enumerate(CLINIC_ON):
        calendars.save_clinic(
            clinic=Clinic(site=site),
            values={
                "name": f"Shoulder {number + 1}",
                "weekday": weekday,
                "starts_at": time(9),
                "slots": 12,
                "slot_minutes": 15,
                "surgeon": people["surgeon"],
            },
            expected_version=1,
            by=people["administrator"],
        )
    questionnaires.save_advice(
        site=site,
        language="en",
        text="Ring the clinic now; at night, the emergency department.",
        expected_latest=0,
        by=people["administrator"],
        now=now,
    )
    questionnaires.save_setup(
        row=QuestionnaireSetup(site=site),
        values={
            "invites": True,
            "expiry_days": EXPIRY_DAYS,
            "reminder_days": REMINDER_DAYS,
        },
        expected_version=1,
        by=people["administrator"],
    )
    return Stage(site, people["coordinator"], people["surgeon"], people["administrator"])


def _person(role: str, site: Site, by: Person) -> Person:
    person = setup.add_person(
        username=f"rehearsal-{role}",
        shown_name=f"Rehearsing {role}",
        email="",
        password="",
        by=by,
    )
    setup.grant_role(person=person, site=site, role=role, starts_on=IN_OFFICE_SINCE, by=by)
    return person
