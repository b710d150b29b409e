"""The setting of the demo. Everything in it is invented: the valley, its hospitals, its people."""

from dataclasses import dataclass

INVENTED = "Invented demo data: no real person, hospital or implant."
VALLEY = "the Merrow valley"
TOWNS = ("Merrow", "Tarnbridge", "Upper Sallow", "Cindle", "Orrin Weir")
STREETS = ("Weir Lane", "Fuller Row", "Saltgate", "Heron Steps", "Old Ropewalk", "Mill Rise")

DEMO_PROCEDURES = 240
DEMO_SITES = 2
DEMO_YEARS = 4
DEMO_SEED = 11


@dataclass(frozen=True)
class DemoSite:
    """One invented hospital."""

    code: str
    name: str


@dataclass(frozen=True)
class DemoPerson:
    """One invented member of staff with a role at each named site."""

    username: str
    shown_name: str
    role: str
    sites: tuple[str, ...]


@dataclass(frozen=True)
class DemoClinic:
    """One clinic on one weekday (0 = Monday) with the user name of its surgeon."""

    site: str
    name: str
    weekday: int
    starts_at: str
    slots: int
    slot_minutes: int
    surgeon: str


SITES = (
    DemoSite("merrow", "Merrow Infirmary"),
    DemoSite("tarnbridge", "Tarnbridge Hospital"),
)
PEOPLE = (
    DemoPerson("coordinator", "Oda Fenwright", "coordinator", ("merrow", "tarnbridge")),
    DemoPerson("surgeon", "Ilva Marrable", "surgeon", ("merrow", "tarnbridge")),
    DemoPerson("reader", "Teo Quillon", "film_reader", ("merrow", "tarnbridge")),
    DemoPerson("quality", "Runa Castellow", "quality_lead", ("merrow", "tarnbridge")),
    DemoPerson("administrator", "Bram Osterley", "administrator", ("merrow", "tarnbridge")),
    DemoPerson("surgeon-two", "Neve Tolliver", "surgeon", ("merrow",)),
    DemoPerson("surgeon-three", "Aldo Wexcombe", "surgeon", ("tarnbridge",)),
    DemoPerson("reader-two", "Sanna Ortrave", "film_reader", ("merrow", "tarnbridge")),
    DemoPerson("coordinator-two", "Gil Harrowden", "coordinator", ("tarnbridge",)),
)
SIGN_INS = ("coordinator", "surgeon", "reader", "quality", "administrator")
PASSWORD = "holdfast-demo"  # noqa: S105 - the demo's open password, printed at its start
LEAD_SURGEON = "surgeon"
OWN_SURGEONS = ("surgeon-two", "surgeon-three")

# The sites take turns, weekends too: on whatever day a demo starts, one of them holds a clinic.
WEEKDAYS = ((0, 2, 4, 6), (1, 3, 5))
WEEKDAY_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")

FAMILY_FIRST = (
    "Al",
    "Bra",
    "Cor",
    "Dun",
    "El",
    "Fen",
    "Gar",
    "Hol",
    "Is",
    "Kel",
    "Lor",
    "Mar",
    "Nor",
    "Os",
    "Pel",
    "Ros",
    "Sel",
    "Tor",
    "Ul",
    "Wen",
)
FAMILY_LAST = (
    "bourne",
    "castow",
    "dell",
    "erby",
    "ford",
    "gate",
    "hurst",
    "ick",
    "kirk",
    "low",
    "mere",
    "nall",
    "over",
    "pool",
    "ridge",
    "stow",
    "thorn",
    "uck",
    "wick",
    "yard",
)
GIVEN_FEMALE = (
    "Adela",
    "Brisa",
    "Corin",
    "Dilys",
    "Emelle",
    "Fara",
    "Gisa",
    "Halla",
    "Ines",
    "Jorun",
    "Kaia",
    "Livia",
    "Mirel",
    "Nadia",
    "Orla",
    "Pia",
)
GIVEN_MALE = (
    "Anselm",
    "Bero",
    "Cato",
    "Davin",
    "Edmar",
    "Finlo",
    "Garrin",
    "Halvor",
    "Ivo",
    "Joss",
    "Kenan",
    "Leif",
    "Merek",
    "Niall",
    "Orson",
    "Perrin",
)


def sites(count: int) -> tuple[DemoSite, ...]:
    """Return so many invented hospitals: the two of the demo first, then numbered ones.

    Raises ValueError below one.
    """
    if count < 1:
        raise ValueError(f"{count} sites; need at least one")
    further = range(len(SITES), count)
    return (
        *SITES[:count],
        *(DemoSite(f"valley-{n + 1}", f"Valley Hospital {n + 1}") for n in further),
    )


def site_name(index: int) -> str:
    """Return the name of a site by its index."""
    return sites(index + 1)[index].name


def own_surgeon(site: int) -> str:
    """Return the user name of the surgeon who works at this site alone, by the site's index."""
    return OWN_SURGEONS[site] if site < len(OWN_SURGEONS) else f"surgeon-valley-{site + 1}"


def surgeons(site: int) -> tuple[str, str]:
    """Return the user names to which a case's surgeon index at this site points."""
    return LEAD_SURGEON, own_surgeon(site)


def readers() -> tuple[str, ...]:
    """Return the user names to which a reading's reader index points."""
    return tuple(person.username for person in PEOPLE if person.role == "film_reader")


def people(count: int) -> tuple[DemoPerson, ...]:
    """Return the staff of so many sites; whoever works at the demo's first two works at all.

    Raises ValueError below one.
    """
    codes = tuple(site.code for site in sites(count))
    both = tuple(site.code for site in SITES)
    staff = [
        DemoPerson(
            person.username,
            person.shown_name,
            person.role,
            codes if person.sites == both else person.sites,
        )
        for person in PEOPLE
        if person.sites == both or set(person.sites) & set(codes)
    ]
    staff += [
        DemoPerson(own_surgeon(n), f"{_family(n)}, surgeon", "surgeon", (codes[n],))
        for n in range(len(SITES), count)
    ]
    return tuple(staff)


def _family(number: int) -> str:
    first, last = FAMILY_FIRST[number % 20], FAMILY_LAST[(number // 20 + 7 * number) % 20]
    return first + last


def clinic_weekdays(site: int) -> tuple[int, ...]:
    """Return the weekdays (0 = Monday) on which a site holds clinic, by the site's index."""
    return WEEKDAYS[site % len(WEEKDAYS)]


def clinics(count: int) -> tuple[DemoClinic, ...]:
    """Return the clinics of so many sites: the lead surgeon's on each clinic day, two of their own.

    Raises ValueError below one.
    """
    found = []
    for index, site in enumerate(sites(count)):
        days = clinic_weekdays(index)
        for surgeon, weekdays in ((LEAD_SURGEON, days), (own_surgeon(index), days[:2])):
            kind = "Shoulder clinic" if surgeon == LEAD_SURGEON else "Second shoulder clinic"
            starts = "09:00" if surgeon == LEAD_SURGEON else "13:30"
            found += [
                DemoClinic(site.code, f"{kind}, {WEEKDAY_NAMES[day]}", day, starts, 18, 10, surgeon)
                for day in weekdays
            ]
    return tuple(found)
