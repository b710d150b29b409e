"""The invented patients answer at home, each at another place."""

import re

import pytest

from config.demo.load import Wanted, load
from followup.models import Answer, Invitation, Score, Task
from followup.selectors.invitations import state_of
from tests import builders
from tests.builders import NOW, TODAY


@pytest.mark.django_db
def test_questionnaires_stand_in_every_state_and_one_of_them_alarms() -> None:
    builders.load_defaults()
    load(Wanted(procedures=90), now=NOW, today=TODAY, whole=True)
    states = {state_of(row, NOW) for row in Invitation.objects.all()}
    assert states >= {"answered", "begun", "revoked", "sent", "expired"}
    assert Task.objects.filter(kind="alarming_answer").exists()
    assert Score.objects.filter(mode="remote", instrument="pain_nrs").exists()
    # Nothing licensed is answered: its words are a site's to paste.
    assert not [one.question for one in Answer.objects.all() if re.search(":", one.question)]
