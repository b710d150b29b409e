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
    "between-films": Method(
        "Events between two films",
        "Turnbull's estimate of when it happened, from the films between which it lies, times the share still "
        "without a revision or a death. Where films do not tell, the share lies between two values. The interval "
        "is log-log with the standard error of bootstrap samples.",
        "Turnbull, J R Stat Soc B 1976;38:290; test: Sun, Stat Med 1996;15:1387",
    ),
    "firth": Method(
        "Firth's logistic regression",
        "Odds of the event by the horizon with a penalised likelihood, which bears few events; profile-likelihood "
        "intervals. Refused below five events, and five without, for each coefficient.",
        "Firth, Biometrika 1993;80:27; Heinze and Schemper, Stat Med 2002;21:2409",
    ),
    "cox": Method(
        "Cause-specific Cox regression",
        "Hazard of the event among those still at risk, by the day of detection, ties by Efron; what competes ends "
        "the watch. It tells the pace, not the share in the end.",
        "Cox, J R Stat Soc B 1972;34:187; Efron, J Am Stat Assoc 1977;72:557",
    ),
    "poisson": Method(
        "Events over procedures and person-time",
        "Every event counts, over 100 procedures and over 100 years in which people were seen, with the exact "
        "Poisson interval.",
        "Garwood, Biometrika 1936;28:437",
    ),
    "standardised": Method(
        "Standardised difference",
        "Difference of means or shares over the root of the mean of both variances: how far two groups are "
        "apart, whatever their size.",
        "Austin, Stat Med 2009;28:3083",
    ),
    "suppositions": Method(
        "Tipping point",
        "The rate over all eligible, supposing how those not judged fared: from none to all of them.",
        "National Research Council, Prevention and Treatment of Missing Data, 2010, chapter 5",
    ),
    "change": Method(
        "Change within people",
        "Median of the differences of pairs with the interval of the sign test: no shape is assumed.",
        "Conover, Practical Nonparametric Statistics, 1999 (from memory)",
    ),
    "funnel": Method(
        "Funnel limits",
        "Exact binomial limits with interpolation around the rate of all units together, at 95% and 99.8%; "
        "over-dispersion is tested where there are units enough.",
        "Spiegelhalter, Stat Med 2005;24:1185",
    ),
    "cusum": Method(
        "Running chart",
        "Risk-adjusted cumulative sum of log-likelihood ratios for odds that change by a fixed factor; the limit "
        "is set by how many cases pass on average to a false alarm, from a Markov chain.",
        "Steiner, Cook, Farewell and Treasure, Biostatistics 2000;1:441",
    ),
    "precision": Method(
        "Expected interval and power",
        "What the interval of a difference would be at the rates supposed and the numbers to come, and how often "
        "it would leave out 0.",
        "Newcombe, Stat Med 1998;17:873; power by the exact sum over both binomials",
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
