import pytest

from followup.selectors import trace as lines
from registry.rules import batches
from registry.rules.notice_matching import Certainty, Scope
from registry.selectors.trace import Question, in_detail, parts_of
from tests import builders
from tests.implanted import PLATE, later, part

pytestmark = pytest.mark.django_db
ASKED = Question(Scope(batch=batches.span("LOT42A")))


def test_a_line_names_who_may_be_named_and_says_where_the_part_is() -> None:
    row = part(batch="lot-42a", serial="S1", catalogue_number="P-6")
    removal = later(row.construct.procedure, "implant_removal")
    far = part(batch="LOT42A", at=builders.site("east"))
    looker = builders.person("looker", north="coordinator", east="quality_lead")
    rows = list(in_detail(parts_of(looker, ASKED, Certainty.CERTAIN)))
    found = {line.part.pk: line for line in lines.lines_of(looker, rows)}
    here = found[row.pk]
    assert here.name == str(row.construct.procedure.injury.patient.identity)
    assert (here.where, here.removal, here.grade) == (
        "removed",
        removal,
        "device identifier and batch or serial",
    )
    assert (found[far.pk].name, found[far.pk].may_open, found[far.pk].where) == (
        "",
        False,
        "in place",
    )
    names = lines.names_of(looker, [(here.patient.pk, far.site_id)])
    assert names == {}


def test_a_table_has_a_row_for_each_part_with_its_marks() -> None:
    row = part(batch="LOT42A", catalogue_number="P-6")
    looker = builders.person("looker", north="quality_lead")
    (cells,) = lines.table(looker, parts_of(looker, ASKED, Certainty.CERTAIN))
    assert len(cells) == len(lines.HEADER)
    told = dict(zip(lines.HEADER, cells, strict=True))
    assert told["patient"] == row.construct.procedure.injury.patient.key
    assert (told["name"], told["device_identifier"], told["where"]) == ("", PLATE, "in place")
    assert told["last_contact_on"] is None
