"""What the invented hospital's system sent this morning: each of the fates that a message can have."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from config.demo.staff import Staff
from followup.models import Review
from followup.models.reviews import ReviewState
from registry.models import HospitalDoor, Patient, Site
from registry.services import hospital_messages, setup

AUTHORITY, CLINIC = "HOSPITAL", "SHOULDER"
HEADER = (
    "MSH|^~\\&|WARDS|{facility}|REGISTRY||{at}||{kind}|DEMO-{number}|P|2.5.1||||||UNICODE UTF-8"
)


def send(staff: Staff, *, now: datetime, today: date) -> None:
    """Open the door of the first hospital, name a clinic there, and let its system send a few."""
    site = staff.sites[0]
    system = _system(site)
    setup.save_versioned(
        HospitalDoor(site=site),
        {"facility": site.code.upper(), "number_systems": {AUTHORITY: system}},
        expected_version=1,
        by=staff.coordinator,
    )
    clinic = next(one for (place, _), some in staff.clinics.items() if place == 0 for one in some)
    setup.save_versioned(
        clinic, {"hospital_code": CLINIC}, expected_version=clinic.version, by=staff.coordinator
    )
    for minute, content in enumerate(_messages(site, system, clinic.weekday, now, today)):
        moment = now - timedelta(minutes=50 - minute)
        hospital_messages.take(site=site, content=content.encode(), way="line", now=moment)


def _messages(site: Site, system: str, weekday: int, now: datetime, today: date) -> Iterator[str]:
    """Yield a change of details, one again, a stranger, a doubtful one, a slot, one that is refused."""
    held = Patient.objects.filter(identifiers__issuing_system=system, status="active")
    first, second = held.order_by("pk")[:2]

    def written(number: int, kind: str, *rows: str) -> str:
        at = f"{now - timedelta(minutes=60 - number):%Y%m%d%H%M%S}+0000"
        values = {"facility": site.code.upper(), "at": at, "kind": kind, "number": number}
        return "\r".join([HEADER.format(**values), *rows, ""])

    details = "ADT^A08^ADT_A01"
    yield written(
        1, details, _pid(first, system, address="8 Weir Lane^^Merrow^^^^H", phone="0555 010 7301")
    )
    yield written(
        2, details, _pid(first, system, address="8 Weir Lane^^Merrow^^^^H", phone="0555 010 7301")
    )
    yield written(3, details, _row("900001", "Nobody", "Noah", "19700101", "M"))
    yield written(4, details, _row(_number(second, system), "Elsewhere", "Ona", "19310203", "F"))
    yield written(5, "ADT^A04^ADT_A01", "PID|1||")
    review = _open_review(system, today)
    if review is not None:
        whose, on = review.procedure.injury.patient, _next_day(weekday, today)
        yield written(
            6,
            "SIU^S12^SIU_S12",
            f"SCH||SLOT-1^WARDS|||||||||^^^{on:%Y%m%d}075500",
            _pid(whose, system),
            f"AIL|1||{CLINIC}",
        )


def _system(site: Site) -> str:
    """Return what the numbers of a hospital are called that are not given for the time being."""
    found = Patient.objects.filter(site=site, identifiers__issuing_system__endswith=" number")
    names = found.exclude(identifiers__issuing_system__contains="temporary")
    return str(names.values_list("identifiers__issuing_system", flat=True).earliest("pk"))


def _open_review(system: str, today: date) -> Review | None:
    rows = Review.objects.filter(
        state=ReviewState.PLANNED,
        opens_on__lte=today,
        closes_on__gte=today + timedelta(days=9),
        procedure__injury__patient__status="active",
        procedure__injury__patient__identifiers__issuing_system=system,
    )
    found: Review | None = rows.select_related("procedure__injury__patient").order_by("pk").first()
    return found


def _next_day(weekday: int, today: date) -> date:
    return today + timedelta(days=1 + (weekday - today.weekday() - 1) % 7)


def _number(patient: Patient, system: str) -> str:
    return str(patient.identifiers.filter(issuing_system=system).earliest("pk").value)


def _pid(patient: Patient, system: str, address: str = "", phone: str = "") -> str:
    who = patient.identity
    born = f"{who.birth_earliest:%Y%m%d}" if who.birth_earliest == who.birth_latest else ""
    return _row(_number(patient, system), who.family_name, who.given_name, born, "", address, phone)


def _row(
    number: str,
    family: str,
    given: str,
    born: str,
    sex: str,
    address: str = "",
    phone: str = "",
) -> str:
    who = f"PID|1||{number}^^^{AUTHORITY}^MR||{family}^{given}||{born}|{sex}"
    return f"{who}|||{address}||{phone}"
