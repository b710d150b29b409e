"""What each method of a figure is and where it comes from, for the appendix of a printed answer."""

from collections.abc import Iterable
from dataclasses import dataclass

from analytics.figures.sections import Section, Table


@dataclass(frozen=True)
class Method:
    """An estimator by name, what it does in a sentence, and its source."""

    name: str
    words: str
    source: str


METHODS: dict[str, Method] = {
    "wilson": Method(
        "Wilson's interval of a share",
        "Events over evaluable cases with a 95 % score interval, which holds for small numbers and "
        "for no event at all.",
        "Wilson, J Am Stat Assoc 1927;22:209",
    ),
    "bounds": Method(
        "Bounds for what is missing",
        "The rate if none, and if all, of the eligible who could not be judged had the event; no "
        "assumption about them is made.",
        "worst and best case; Manski, Am Econ Rev 1990;80:319",
    ),
    "newcombe": Method(
        "Difference of two shares",
        "From the two score intervals, so that small numbers and no events are borne; nothing is "
        "adjusted for.",
        "Newcombe, Stat Med 1998;17:873",
    ),
    "incidence": Method(
        "Cumulative incidence with competing events",
        "Aalen and Johansen's estimate: revision and death compete and are not censored. No curve "
        "goes beyond the point where too few remain at risk. The 95 % interval is log-log with the "
        "delta-method variance; where no event was found it is Wilson's for none of those at risk.",
        "Aalen and Johansen, Scand J Stat 1978;5:141",
    ),
    "detection": Method(
        "Day of an event",
        "What a film shows had happened between this film and the one before; curves by the day of "
        "detection are late by up to that interval.",
        "Lindsey and Ryan, Stat Med 1998;17:219",
    ),
    "person-time": Method(
        "Completeness of person-time",
        "Years observed over years that could have been observed: up to the horizon, the data cut-off, "
        "an event, a revision or death, whichever came first.",
        "Clark, Altman and De Stavola, Lancet 2002;359:1309",
    ),
    "lost-to-failure": Method(
        "Lost for each failure",
        "How many are lost for each known failure: above 1, more are unaccounted for than are "
        "known to have failed; below it, they can change the answer still.",
        "Murray, Britton and Bulstrode, J Bone Joint Surg Br 1997;79:254",
    ),
    "pooling": Method(
        "Published counts, pooled",
        "A random-effects logit model of the counts themselves (binomial within a study, normal "
        "between studies on the logit scale); the prediction interval is where the true rate of a "
        "further unit would lie.",
        "Stijnen, Hamza and Ozdemir, Stat Med 2010;29:3046; prediction: Higgins, Thompson and "
        "Spiegelhalter, J R Stat Soc A 2009;172:137",
    ),
}


def appendix(sections: Iterable[Section]) -> Section:
    """Return the section that explains every method that some sections rest on.

    Raises KeyError for a method that nobody has described.
    """
    used = dict.fromkeys(name for section in sections for name in section.methods)
    rows = [METHODS[name] for name in used]
    table = Table(
        caption="Every estimator in these pages, with where it comes from.",
        head=("Method", "What it does", "Source"),
        rows=tuple((row.name, row.words, row.source) for row in rows),
        widths=(1.2, 2.6, 1.4),
    )
    return Section("methods", "How was this computed?", "", (table,))
