from analytics.figures.sections import Figure, Section, Table
from analytics.figures.surgeons import NOTE, shows_surgeons, without_surgeons
from analytics.figures.svg import Drawing

SHEET = Drawing(10, 10, "Ann 3 of 40", ())
SITES = Table("Sites.", ("x",), (("North",),), name="sites")
ANN = Table("Surgeons.", ("x",), (("Ann",),), name="surgeons", surgeons=True)
MIXED = Section(
    "funnels",
    "Does anybody stand apart?",
    "Nobody is ranked.",
    tables=(SITES, ANN),
    figures=(Figure("Sites.", SHEET), Figure("Ann: 3 of 40.", SHEET, surgeons=True)),
    beside=(ANN,),
    paired=True,
)


def test_nothing_that_shows_surgeons_is_left_and_it_is_said() -> None:
    made = without_surgeons(MIXED)
    assert (made.tables, made.beside, len(made.figures)) == ((SITES,), (), 1)
    assert made.notes == (NOTE,)
    assert not shows_surgeons([made])
    assert [figure.caption for figure in made.figures] == ["Sites."]


def test_another_section_stays_as_it_is() -> None:
    plain = Section("held", "Did it hold?", "Yes.", tables=(SITES,))
    assert without_surgeons(plain) is plain
    assert shows_surgeons([plain, MIXED])
