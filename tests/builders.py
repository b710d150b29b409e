"""Plain builders with good defaults; each test names only what matters to it."""

from datetime import UTC, date, datetime, time
from itertools import count
from typing import Any

from followup.models import Appointment, Clinic, Review
from followup.services import reviews
from registry.models import (
    ConstructType,
    Injury,
    Membership,
    Patient,
    PatientMerge,
    Person,
    Procedure,
    Site,
)
from registry.services import enrolment, merges
from tests import shipped

TODAY = date(2026, 11, 25)
NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
_numbers = count(1)


def load_defaults() -> None:
    """Load the shipped construct types and protocols."""
    shipped.load(NOW)


def site(code: str = "north", **values: Any) -> Site:
    """Return the site with this code, made when it is new."""
    return Site.objects.get_or_create(
        code=code, defaults={"name": f"{code.title()} Hospital", **values}
    )[0]


def person(username: str, **held: str) -> Person:
    """Return a person; `north="surgeon"` gives a role at a site, several joined by '+'."""
    somebody, _ = Person.objects.get_or_create(
        username=username, defaults={"shown_name": username.replace("_", " ").title()}
    )
    for code, names in held.items():
        for name in names.split("+"):
            Membership.objects.get_or_create(
                person=somebody, site=site(code), role=name, defaults={"starts_on": "2020-01-01"}
            )
    return somebody


def construct_type(code: str = "LP", **values: Any) -> ConstructType:
    """Return a construct type."""
    hook = code == "HP"
    defaults = {
        "name": f"Construct {code}",
        "family": "hook_plate" if hook else "locking_plate",
        "planned_removal": hook,
        "removal_opens_weeks": 12 if hook else None,
        "removal_due_weeks": 16 if hook else None,
        "uses_small_lateral_screws": not hook,
    }
    return ConstructType.objects.get_or_create(code=code, defaults={**defaults, **values})[0]


def patient(at: Site | None = None, by: Person | None = None, **identity: Any) -> Patient:
    """Return an enrolled patient with an identity and one identifier."""
    number = next(_numbers)
    place = at or site()
    return enrolment.enrol_patient(
        site=place,
        identity={
            "family_name": f"Testfamily{number}",
            "given_name": "Ada",
            "birth_earliest": date(1980, 5, 17),
            "birth_latest": date(1980, 5, 17),
            "sex": "female",
            **identity,
        },
        identifiers=[enrolment.IdentifierGiven("hospital number", f"{place.code}-{number:06d}")],
        by=by or person("recorder", **{place.code: "coordinator+surgeon"}),
        now=NOW,
        today=TODAY,
    )


def merged(kept: Patient, other: Patient) -> PatientMerge:
    """Merge a patient into another, as both stand now."""
    into, away = (Patient.objects.get(pk=one.pk) for one in (kept, other))
    return merges.merge_patients(
        kept=into,
        merged=away,
        reason="same passport",
        kept_version=into.version,
        merged_version=away.version,
        by=into.recorded_by,
        now=NOW,
    )


def injury(
    of: Patient | None = None, classes: dict[str, str] | None = None, **values: Any
) -> Injury:
    """Return an injury, by default of the left side on 1 June 2026."""
    whose = of or patient()
    return enrolment.record_injury(
        patient=whose,
        site=values.pop("site", whose.site),
        values={
            "side": "left",
            "injured_earliest": date(2026, 6, 1),
            "injured_latest": date(2026, 6, 1),
            "other_shoulder": "uninjured",
            **values,
        },
        classes={"neer": "IIB"} if classes is None else classes,
        by=whose.recorded_by,
        now=NOW,
        today=TODAY,
    )


def procedure(
    of: Injury | None = None, construct: dict[str, Any] | None = None, **values: Any
) -> Procedure:
    """Return an index procedure with a construct, by default a locking plate on 5 June 2026."""
    on = of or injury()
    facts = {"construct_type": "LP", **(construct or {})}
    facts["construct_type"] = construct_type(facts["construct_type"])
    return enrolment.record_procedure(
        injury=on,
        values={"kind": "fixation", "performed_on": date(2026, 6, 5), **values},
        construct=facts,
        by=on.recorded_by,
        now=NOW,
        today=TODAY,
    )


def clinic(at: Site | None = None, **values: Any) -> Clinic:
    """Return a clinic, by default on Tuesdays with six slots of ten minutes from 09:00."""
    number = next(_numbers)
    given = {"name": f"Shoulder {number}", "weekday": 1, "starts_at": time(9), "slots": 6, **values}
    return Clinic.objects.create(site=at or site(), **given)


def booked(
    review: Review,
    on: date = date(2026, 12, 1),
    at: time = time(9),
    where: Clinic | None = None,
    today: date = TODAY,
) -> Appointment:
    """Return a slot of a review, by default on Tuesday 1 December 2026 at a clinic of its own."""
    return reviews.book(
        review=review,
        clinic=where or clinic(review.site, weekday=on.weekday()),
        on=on,
        at=at,
        expected_version=review.version,
        by=review.recorded_by,
        now=NOW,
        today=today,
    )
