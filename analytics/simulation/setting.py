"""The setting of the demo. Everything in it is invented: the valley, its hospitals, its people."""

from dataclasses import dataclass

INVENTED = "Invented demo data: no real person, hospital or implant."


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
)
SIGN_INS = ("coordinator", "surgeon", "reader", "quality", "administrator")
PASSWORD = "holdfast-demo"  # noqa: S105 - the demo's open password, printed at its start

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
