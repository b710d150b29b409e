"""Messages as a hospital's system writes them, all invented, and a site that takes them."""

from collections.abc import Mapping
from typing import Any

from registry.models import HospitalDoor, HospitalMessage, Patient, Site
from registry.services import hospital_messages
from tests import builders
from tests.builders import NOW

CLINIC = "SHOULDER"


def door(site: Site | None = None, **values: Any) -> HospitalDoor:
    """Return the open door of a site, which calls the numbers of HOSP its hospital numbers."""
    given = {"number_systems": {"HOSP": "hospital number", "REGION": "region"}, **values}
    return HospitalDoor.objects.get_or_create(site=site or builders.site(), defaults=given)[0]


def number_of(patient: Patient) -> str:
    """Return the patient's hospital number."""
    return str(patient.identifiers.get(issuing_system="hospital number").value)


def header(kind: str, at: str, control_id: str, **changes: str) -> str:
    """Return the header of a message."""
    given = {"facility": "HOSP", "purpose": "P", "version": "2.5.1", "charset": "", **changes}
    return (
        f"MSH|^~\\&|PAS|{given['facility']}|REGISTRY|HOSP|{at}||{kind}|{control_id}|"
        f"{given['purpose']}|{given['version']}||||||{given['charset']}"
    )


def pid(
    number: str,
    family: str = "Testfamily",
    given: str = "Ada",
    born: str = "19800517",
    sex: str = "F",
    address: str = "",
    phone: str = "",
    died: str = "",
    dead: str = "",
) -> str:
    """Return a PID segment; what is '' is left out."""
    numbers = "~".join(f"{one}^^^HOSP^MR" for one in number.split("~"))
    fields = ["PID", "1", "", numbers, "", f"{family}^{given}", "", born, sex, "", "", address]
    fields += ["", phone, *[""] * 15, died, dead]
    return "|".join(fields)


def adt(
    event: str,
    number: str,
    at: str = "20261125080000",
    control_id: str = "",
    more: str = "",
    head: dict[str, str] | None = None,
    **person: str,
) -> bytes:
    """Return a message about a person; `more` are further segments."""
    control_id = control_id or f"M{at}"
    kind = f"ADT^{event}^ADT_A01"
    lines = [header(kind, at, control_id, **(head or {})), f"EVN||{at}", pid(number, **person)]
    return "\r".join([*lines, *([more] if more else []), ""]).encode()


def merge(
    kept: str, lost: str, at: str = "20261125080000", control_id: str = "", **person: str
) -> bytes:
    """Return a message that the number `lost` was merged into `kept`."""
    lines = [
        header("ADT^A40^ADT_A39", at, control_id or f"M{at}"),
        f"EVN||{at}",
        pid(kept, **person),
        f"MRG|{lost}^^^HOSP^MR",
    ]
    return "\r".join([*lines, ""]).encode()


def siu(
    event: str,
    number: str,
    filler: str,
    starts: str,
    at: str = "20261125080000",
    control_id: str = "",
    place: str = CLINIC,
    status: str = "",
    **person: str,
) -> bytes:
    """Return a message about a slot."""
    lines = [
        header(f"SIU^{event}^SIU_S12", at, control_id or f"M{at}"),
        f"SCH||{filler}^PAS|||||||||^^^{starts}||||||||||||||{status}",
        pid(number, **person),
        "RGS|1",
        f"AIL|1||{place}^^^HOSP",
    ]
    return "\r".join([*lines, ""]).encode()


def taken(content: bytes, site: Site | None = None, **values: Any) -> HospitalMessage:
    """Take a message by the line of a site, whose door is opened."""
    place = site or builders.site()
    door(place)
    given = {"way": "line", "now": NOW, **values}
    return hospital_messages.take(site=place, content=content, **given)


def waiting(patient: Patient, who: Mapping[str, Any]) -> int:
    """Return a message that waits at the patient's site: it names them by a number that nobody has."""
    content = adt(
        "A08",
        f"{patient.site.code}9090",
        family=who["family_name"],
        given=who["given_name"],
        born=f"{who['birth_earliest']:%Y%m%d}",
        phone=who["phone"],
    )
    return taken(content, patient.site).pk
