from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from followup.models import Invitation
from registry.models import Person
from tests.builders import NOW
from tests.followup.asked import invited

pytestmark = pytest.mark.usefixtures("defaults")


@time_machine.travel(NOW + timedelta(days=30), tick=False)
def test_the_page_and_the_table_name_nobody(quality_lead: Person) -> None:
    invitation, _ = invited()
    Invitation.objects.update(completed_at=NOW)
    client = Client()
    client.force_login(quality_lead)
    page = client.get(reverse("responses"))
    table = client.get(reverse("responses-csv"))
    whose = invitation.review.procedure.injury.patient
    for answer in (page, table):
        said = answer.content.decode()
        assert "6 months" in said
        assert whose.key not in said
        assert whose.identity.family_name not in said
    assert "1 of 1 answered" in page.content.decode()
    assert "all,All,1,1,1.0000" in table.content.decode()


def test_without_anybody_it_says_why(quality_lead: Person) -> None:
    client = Client()
    client.force_login(quality_lead)
    shown = client.get(reverse("responses") + "?since=nonsense").content.decode()
    assert "Nobody to count yet" in shown
