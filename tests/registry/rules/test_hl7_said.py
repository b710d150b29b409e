"""What messages say: people, merges, slots, and their place in time."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from registry.rules import hl7_said
from registry.rules.hl7_said import Number, Said
from registry.rules.hl7_text import Segments, Unusable
from tests import hospital

ZONE = ZoneInfo("Europe/London")


def said(content: bytes) -> Said:
    return hl7_said.read(Segments(content.decode()), ZONE)


def test_a_person_is_read_with_numbers_names_contacts_and_birth() -> None:
    found = said(
        hospital.adt(
            "A08",
            "7",
            family="Van Test&van&Test",
            address="1 High Street&High Street^Flat 2^Town^^AB1^GBR^H",
            phone="0555 1^PRN^PH~^NET^Internet^ada@mail.example",
        )
    )
    assert found.kind == "person"
    assert found.person.numbers == (Number("HOSP", "7"),)
    assert found.person.values == {
        "family_name": "Van Test",
        "given_name": "Ada",
        "sex": "female",
        "address": "1 High Street, Flat 2, Town, AB1, GBR",
        "phone": "0555 1",
        "email": "ada@mail.example",
    }
    assert found.person.born is not None
    assert found.person.born.earliest == date(1980, 5, 17)


def test_the_legal_name_counts_among_several() -> None:
    content = hospital.adt("A08", "7").replace(
        b"Testfamily^Ada", b"Ada^Lala^^^^^N~Lawful^Ada^^^^^L"
    )
    assert said(content).person.values["family_name"] == "Lawful"


def test_only_contacts_can_be_emptied() -> None:
    found = said(hospital.adt("A08", "7", family='""', given='""', phone='""', address='""'))
    assert found.person.values == {"sex": "female", "phone": "", "address": ""}


@pytest.mark.parametrize(
    ("born", "first", "last"),
    [
        ("1980", (1980, 1, 1), (1980, 12, 31)),
        ("198005", (1980, 5, 1), (1980, 5, 31)),
        ("19800517103000", (1980, 5, 17), (1980, 5, 17)),
    ],
)
def test_a_birth_date_has_the_bounds_of_what_is_known(
    born: str, first: tuple[int, int, int], last: tuple[int, int, int]
) -> None:
    bounds = said(hospital.adt("A08", "7", born=born)).person.born
    assert bounds is not None
    assert (bounds.earliest, bounds.latest) == (date(*first), date(*last))


@pytest.mark.parametrize("born", ["", "19800231", "1980-05-17", "18000101x", "99"])
def test_a_birth_date_that_is_none_says_nothing(born: str) -> None:
    assert said(hospital.adt("A08", "7", born=born)).person.born is None


def test_a_merge_names_who_survives_and_what_is_absorbed() -> None:
    found = said(hospital.merge("222222", "111111"))
    assert found.kind == "merge"
    assert found.person.numbers == (Number("HOSP", "222222"),)
    assert found.lost == (Number("HOSP", "111111"),)


def test_a_merge_without_an_absorbed_number_cannot_be_used() -> None:
    with pytest.raises(Unusable, match="absorbed"):
        said(hospital.merge("2", "1").replace(b"MRG|1^^^HOSP^MR", b"MRG|"))
    with pytest.raises(Unusable, match="needs the number"):
        said(hospital.merge("2", "1").replace(b"MRG|1", b"ZZZ|1"))


def test_a_slot_has_its_names_its_begin_and_its_place() -> None:
    found = said(hospital.siu("S12", "7", "F1", "20260701093000"))
    assert found.slot is not None
    assert (found.kind, found.slot.act, found.slot.filler) == ("slot", "booked", "F1^PAS")
    assert found.slot.starts == datetime(2026, 7, 1, 9, 30)  # noqa: DTZ001 - by the site's clock
    assert found.slot.places == ("SHOULDER",)


def test_a_begin_with_an_offset_is_put_on_the_sites_clock() -> None:
    found = said(hospital.siu("S12", "7", "F1", "20260701093000+0200"))
    assert found.slot is not None
    assert str(found.slot.starts) == "2026-07-01 08:30:00"


@pytest.mark.parametrize(
    ("event", "status", "act"),
    [
        ("S12", "", "booked"),
        ("S13", "BOOKED", "booked"),
        ("S14", "Cancelled", "cancelled"),
        ("S15", "", "cancelled"),
        ("S17", "", "cancelled"),
        ("S26", "", "missed"),
        ("S14", "No show", "missed"),
    ],
)
def test_event_and_status_say_what_is_to_become_of_a_slot(
    event: str, status: str, act: str
) -> None:
    found = said(hospital.siu(event, "7", "F1", "20260701093000", status=status))
    assert found.slot is not None
    assert found.slot.act == act


def test_a_slot_without_a_name_or_without_a_begin_cannot_be_used() -> None:
    with pytest.raises(Unusable, match="names the slot"):
        said(hospital.siu("S12", "7", "F1", "20260701093000").replace(b"F1^PAS", b""))
    with pytest.raises(Unusable, match="no begin"):
        said(hospital.siu("S12", "7", "F1", "soon"))


@pytest.mark.parametrize(
    ("head", "why"),
    [
        ({"version": "3.0"}, "Version '3.0'"),
        ({"version": ""}, "Version ''"),
        ({"purpose": "T"}, "MSH-11 says 'T'"),
    ],
)
def test_another_version_or_purpose_is_rejected(head: dict[str, str], why: str) -> None:
    with pytest.raises(Unusable, match=why) as caught:
        said(hospital.adt("A08", "7", head=head))
    assert caught.value.answer == "AR"


@pytest.mark.parametrize("kind", ["ORU^R01", "ADT^A60", "SIU^A08", "ADT^S12", "ADT"])
def test_another_type_is_rejected(kind: str) -> None:
    content = hospital.adt("A08", "7").replace(b"ADT^A08^ADT_A01", kind.encode())
    with pytest.raises(Unusable, match="not taken") as caught:
        said(content)
    assert caught.value.answer == "AR"


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        (b"M20261125080000", b"", "MSH-10"),
        (b"20261125080000", b"", "place in time|MSH-10"),
        (b"PID|", b"ZID|", "no PID"),
        (b"|7^^^HOSP^MR", b"|", "PID-3"),
    ],
)
def test_what_lacks_something_needed_cannot_be_used(old: bytes, new: bytes, why: str) -> None:
    with pytest.raises(Unusable, match=why) as caught:
        said(hospital.adt("A08", "7").replace(old, new))
    assert caught.value.answer == "AE"


def test_the_moment_of_recording_orders_messages_before_that_of_sending() -> None:
    content = hospital.adt("A08", "7", at="20261125080000").replace(
        b"EVN||20261125080000", b"EVN||20261124070000"
    )
    assert said(content).moment.astimezone(UTC) == datetime(2026, 11, 24, 7, tzinfo=UTC)


def test_messages_of_one_moment_are_ordered_by_their_names() -> None:
    at = datetime(2026, 11, 25, 8, tzinfo=UTC)
    named = [hl7_said.clock_of(at, name) for name in ("9", "10", "11")]
    later = hl7_said.clock_of(at + timedelta(milliseconds=1), "1")
    assert sorted([*reversed(named), later]) == [*named, later]


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2026", (2026, 1, 1, 0, 0)),
        ("202607", (2026, 6, 30, 23, 0)),
        ("20260701", (2026, 6, 30, 23, 0)),
        ("202607010930", (2026, 7, 1, 8, 30)),
        ("20260701093000.1234", (2026, 7, 1, 8, 30)),
        ("20260701093000-0030", (2026, 7, 1, 10, 0)),
    ],
)
def test_moments_are_read_as_exactly_as_they_are_written(
    text: str, utc: tuple[int, int, int, int, int]
) -> None:
    found = hl7_said.parse_moment(text, ZONE)
    assert found is not None
    assert found.astimezone(UTC).replace(second=0, microsecond=0) == datetime(*utc, tzinfo=UTC)


@pytest.mark.parametrize(
    "text", ["", "26", "20261301", "2026070109300x", "20260701+9900", "2026-07-01"]
)
def test_what_is_no_moment_is_none(text: str) -> None:
    assert hl7_said.parse_moment(text, ZONE) is None


@pytest.mark.parametrize(
    ("dead", "day"),
    [
        ("2026", None),
        ("202607", None),
        ("20260701", date(2026, 7, 1)),
        ("20260701+0300", date(2026, 7, 1)),
        ("20260701003000+0200", date(2026, 6, 30)),
    ],
)
def test_a_death_has_a_day_only_where_one_is_said(dead: str, day: date | None) -> None:
    person = said(hospital.adt("A08", "7", died=dead, dead="Y")).person
    assert (person.died, person.died_on) == (True, day)


def test_a_begin_without_a_time_is_none() -> None:
    with pytest.raises(Unusable, match="no day with a time"):
        said(hospital.siu("S12", "7", "F1", "20260701"))
    found = said(hospital.siu("S12", "7", "F1", "2026070109")).slot
    assert found is not None
    assert str(found.starts) == "2026-07-01 09:00:00"
    assert said(hospital.siu("S15", "7", "F1", "20260701")).slot is not None


@pytest.mark.parametrize("kind", ["AN", "VN", "SS", "PPN", "DL", "an"])
def test_numbers_of_accounts_and_visits_are_not_the_patients(kind: str) -> None:
    content = hospital.adt("A08", "7~8").replace(b"|7^^^HOSP^MR", f"|7^^^HOSP^{kind}".encode())
    assert said(content).person.numbers == (Number("HOSP", "8"),)
    with pytest.raises(Unusable, match="PID-3"):
        said(content.replace(b"8^^^HOSP^MR", f"8^^^HOSP^{kind}".encode()))


@pytest.mark.parametrize("kind", ["", "MR", "PI", "PT", "mr", "NNGBR"])
def test_numbers_of_the_record_and_the_person_are_the_patients(kind: str) -> None:
    content = hospital.adt("A08", "7").replace(b"HOSP^MR", f"HOSP^{kind}".encode())
    assert said(content).person.numbers == (Number("HOSP", "7"),)
