"""Invented patients and their injuries."""

from calendar import monthrange
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from analytics.simulation import setting
from analytics.simulation.draws import Draws
from analytics.simulation.records import SimConsent
from analytics.simulation.truth import TRUTH

ANYBODY = 10_000_000
# Of the same length as ANYBODY and without a common factor, so that no two numbers are alike.
SCATTER = 7_368_787
LANGUAGES = {"en": 0.93, "pl": 0.03, "pt": 0.02, "ar": 0.02}
MEANS = {"phone": 0.55, "text": 0.3, "email": 0.1, "letter": 0.05}

MECHANISMS = {
    "bicycle": 0.38,
    "sport": 0.22,
    "fall_standing": 0.2,
    "road": 0.12,
    "fall_height": 0.05,
    "unknown": 0.03,
}
HIGH_ENERGY = {"bicycle": 0.35, "sport": 0.2, "road": 0.8, "fall_height": 0.7}
DOMINANT = {"right": 0.87, "left": 0.1, "both": 0.01, "unknown": 0.02}
OTHER_SHOULDER = {
    "uninjured": 0.9,
    "injured_before": 0.04,
    "operated_before": 0.01,
    "unknown": 0.05,
}
SMOKING = {"never": 0.5, "former": 0.2, "current": 0.25, "unknown": 0.05}
DIABETES = {"no": 0.9, "yes": 0.06, "unknown": 0.04}
STEROIDS = {"no": 0.95, "yes": 0.02, "unknown": 0.03}
OSTEOPOROSIS = {"no": 0.9, "yes": 0.05, "unknown": 0.05}
WORK = {"low": 0.37, "moderate": 0.3, "high": 0.23, "not_applicable": 0.05, "unknown": 0.05}
SPORT = {"none": 0.3, "recreational": 0.5, "contact": 0.15, "unknown": 0.05}
ROCKWOOD = {"III": 0.2, "IIIA": 0.05, "IIIB": 0.1, "IV": 0.1, "V": 0.55}
NEER = {"IIA": 0.22, "IIB": 0.48, "IIC": 0.08, "V": 0.2, "III": 0.02}
AO_OTA = {"15.3A": 0.7, "15.3B": 0.22, "15.3C": 0.08}
NO_BMI_SHARE, MONTH_ONLY_SHARE, YEAR_OF_BIRTH_SHARE = 0.15, 0.03, 0.01


@dataclass(frozen=True)
class Person:
    """What stays the same when a person is hurt again."""

    number: int
    home: int
    first_side: str
    identity: dict[str, Any]
    habits: dict[str, Any]


def person(rng: Draws, number: int, day: date, sites: int) -> Person:
    """Return an invented person who is first hurt about a day."""
    return Person(
        number=number,
        home=rng.integers(0, sites),
        first_side="left" if rng.chance(0.55) else "right",
        identity=identity(rng, number, day),
        habits=habits(rng),
    )


def identity(rng: Draws, number: int, day: date) -> dict[str, Any]:
    """Return an invented identity; ages are those of working and cycling adults."""
    female = rng.chance(0.3)
    given = rng.choice(setting.GIVEN_FEMALE if female else setting.GIVEN_MALE)
    family = rng.choice(setting.FAMILY_FIRST) + rng.choice(setting.FAMILY_LAST)
    born = day - timedelta(days=int(rng.bounded(42, 14, 18, 90) * 365.25))
    first, last = born, born
    if rng.chance(YEAR_OF_BIRTH_SHARE):
        first, last = born.replace(month=1, day=1), born.replace(month=12, day=31)
    phone = _phone(number) if rng.chance(0.95) else ""
    email = f"{family.lower()}.{number}@patients.invalid" if rng.chance(0.7) else ""
    return {
        "family_name": family,
        "given_name": given,
        "birth_earliest": first,
        "birth_latest": last,
        "sex": "female" if female else "male",
        "phone": phone,
        "email": email,
        "address": _address(rng),
        "preferred_means": _preferred(rng, phone, email),
        "refused_means": ["text"] if rng.chance(0.05) else [],
        "language": rng.pick(LANGUAGES),
        **_other_contact(rng, number),
        "contact_checked_on": day,
    }


def _scattered(number: int) -> int:
    return (number * SCATTER + 1_234_567) % ANYBODY


def _phone(number: int) -> str:
    # No country and no network gives out numbers that start like these.
    digits = f"{_scattered(number):07d}"
    return f"0000 {digits[:3]} {digits[3:]}"


def _address(rng: Draws) -> str:
    return f"{rng.integers(1, 90)} {rng.choice(setting.STREETS)}, {rng.choice(setting.TOWNS)}"


def _preferred(rng: Draws, phone: str, email: str) -> str:
    means = rng.pick(MEANS)
    reachable = {"phone": phone, "text": phone, "email": email}
    return means if reachable.get(means, "letter") else "letter"


def _other_contact(rng: Draws, number: int) -> dict[str, str]:
    if not rng.chance(0.4):
        return {}
    name = f"{rng.choice(setting.GIVEN_FEMALE)} {rng.choice(setting.FAMILY_FIRST)}wick"
    return {
        "other_contact_name": name,
        "other_contact_phone": _phone(ANYBODY - 1 - number),
    }


def habits(rng: Draws) -> dict[str, Any]:
    """Return what a person brings to every injury."""
    return {
        "dominant_arm": rng.pick(DOMINANT),
        "smoking": rng.pick(SMOKING),
        "diabetes": rng.pick(DIABETES),
        "bmi_kg_m2": (None if rng.chance(NO_BMI_SHARE) else round(rng.bounded(26, 4, 17, 48), 1)),
        "steroid_use": rng.pick(STEROIDS),
        "osteoporosis": rng.pick(OSTEOPOROSIS),
        "work_demand": rng.pick(WORK),
        "sport_demand": rng.pick(SPORT),
    }


def typed_again(rng: Draws, known: Mapping[str, Any]) -> dict[str, Any]:
    """Return an identity as somebody types it who did not find the person: with one slip.

    Two letters of the family name change places, or one digit of the day of birth is wrong;
    in the second case the telephone number still agrees.
    """
    family = str(known["family_name"])
    born: date = known["birth_earliest"]
    exact = born == known["birth_latest"]
    if exact and known["phone"] and rng.chance(0.5):
        slip = _one_digit_off(born)
        return {**known, "birth_earliest": slip, "birth_latest": slip}
    at = rng.integers(1, len(family) - 2)
    swapped = family[:at] + family[at + 1] + family[at] + family[at + 2 :]
    # Two letters that are alike cannot change places; then one of them is left out.
    return {
        **known,
        "family_name": swapped if swapped != family else family[:at] + family[at + 1 :],
    }


def _one_digit_off(day: date) -> date:
    if day.day >= 30:
        return day.replace(day=day.day - 10)
    return day + timedelta(days=-1 if day.day % 10 >= 2 else 1)


def identifiers(site: int, name: str, number: int, again: bool) -> tuple[tuple[str, str], ...]:
    """Return the numbers of a person at a site: issuing system and value.

    Somebody typed again was not found, and so has a temporary number.
    """
    if again:
        return ((f"{name} temporary number", f"T{_scattered(number + site):07d}"),)
    return ((f"{name} number", f"{_scattered(number):07d}"),)


def consents(rng: Draws, day: date) -> tuple[SimConsent, ...]:
    """Return the person's decisions about the registry and about being contacted."""
    registry = "given" if rng.chance(0.97) else "opted_out"
    contact = "given" if rng.chance(0.95) else "opted_out"
    basis = "Asked on the ward (invented)"
    return (
        SimConsent("registry", registry, day, basis),
        SimConsent("contact", contact, day, basis),
    )


def injury(rng: Draws, day: date, code: str) -> tuple[dict[str, Any], dict[str, str]]:
    """Return an injury of a day and its classes; of some dates only the month is known."""
    fracture = rng.chance(TRUTH[code].fracture)
    first, last = day, day
    if rng.chance(MONTH_ONLY_SHARE):
        first = day.replace(day=1)
        last = day.replace(day=monthrange(day.year, day.month)[1])
    mechanism = rng.pick(MECHANISMS)
    values = {
        "kind": "lateral_clavicle" if fracture else "ac_joint",
        "injured_earliest": first,
        "injured_latest": last,
        "mechanism": mechanism,
        "energy": "high" if rng.chance(HIGH_ENERGY.get(mechanism, 0.1)) else "low",
        "skin": "closed" if rng.chance(0.99) else "open",
        "other_shoulder": rng.pick(OTHER_SHOULDER),
    }
    return values, _classes(rng, fracture)


def _classes(rng: Draws, fracture: bool) -> dict[str, str]:
    if not fracture:
        return {"rockwood": rng.pick(ROCKWOOD)}
    classes = {"neer": rng.pick(NEER)}
    if rng.chance(0.7):
        classes["ao_ota"] = rng.pick(AO_OTA)
    return classes
