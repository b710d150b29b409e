"""Normal Constant-Murley scores by age and sex, and a score as a share of them.

None of these tables could be read in its print: the numbers are from memory and have to be checked
against the source before a service switches one on. Published cautions: the original norms
overstate the relative function of women over 40 and men over 60, so that the absolute score is
always told beside it (Yian et al., J Bone Joint Surg Br 2005, 1,620 + 115 shoulders).
"""

from dataclasses import dataclass

from followup.rules.scores.result import ScoreResult, no_number


@dataclass(frozen=True)
class NormTable:
    """Expected scores: (first age, last age, men, women), ages in whole years, both included."""

    code: str
    version: str
    source: str
    status: str
    rows: tuple[tuple[int, int, float, float], ...]

    @property
    def label(self) -> str:
        """Return what is kept with every score that was compared with this table."""
        return f"{self.code}, version {self.version}"


TABLES = {
    table.code: table
    for table in (
        NormTable(
            code="constant-1986",
            version="1",
            source="Constant's original norms (thesis, Cambridge 1986)",
            status="from memory: check against the print before use",
            rows=(
                (21, 30, 98, 97),
                (31, 40, 93, 90),
                (41, 50, 92, 80),
                (51, 60, 90, 73),
                (61, 70, 83, 70),
                (71, 80, 75, 69),
                (81, 90, 66, 64),
            ),
        ),
        NormTable(
            code="katolik-2005",
            version="1",
            source="Katolik et al., J Shoulder Elbow Surg 2005 (441 people, USA)",
            status="from memory, low confidence: check against the print before use",
            rows=(
                (18, 29, 95, 88),
                (30, 39, 95, 87),
                (40, 49, 96, 86),
                (50, 59, 94, 84),
                (60, 69, 92, 83),
                (70, 120, 88, 81),
            ),
        ),
    )
}


def expected(table: NormTable, *, age: int, sex: str) -> ScoreResult:
    """Return the normal score at an age in whole years; sex is 'male' or 'female'."""
    if sex not in ("male", "female"):
        return no_number(f"{table.code} has men and women only, and the sex recorded is '{sex}'")
    for first, last, men, women in table.rows:
        if first <= age <= last:
            return ScoreResult(men if sex == "male" else women)
    first, last = table.rows[0][0], table.rows[-1][1]
    return no_number(f"{table.code} goes from {first} to {last} years, and the age is {age}")


def relative(score: float, table: NormTable, *, ages: tuple[int, int], sex: str) -> ScoreResult:
    """Return score / expected x 100, %; `ages` are the least and the greatest possible age.

    Not computable where the table has no such person, or where a birth date that is known only in
    part leaves two norms possible. May exceed 100.
    """
    norms = [expected(table, age=age, sex=sex) for age in ages]
    refused = next((norm for norm in norms if norm.value is None), None)
    if refused is not None:
        return refused
    values = {norm.value for norm in norms}
    if len(values) > 1:
        return no_number(
            f"the age lies between {ages[0]} and {ages[1]}, for which {table.code} has two norms"
        )
    return ScoreResult(score / float(norms[0].value or 1) * 100)


def against_other_side(score: float, other: float) -> ScoreResult:
    """Return the score as a percentage of the other, healthy shoulder's score."""
    if other <= 0:
        return no_number("the other shoulder's score is 0")
    return ScoreResult(score / other * 100)
