import pytest
from django.core.management import call_command

from analytics.models import Pack
from analytics.services import packs
from analytics.tasks.packs import make
from registry.models import Person
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.usefixtures("defaults")


def test_the_task_and_the_command_make_what_waits_once(
    quality_lead: Person, capsys: pytest.CaptureFixture[str]
) -> None:
    builders.procedure()
    site = builders.site()
    packs.ask(sites=[site], address="", for_outside=False, by=quality_lead, now=NOW)
    assert make()["outcome"] == "good"
    assert Pack.objects.get().state == "ready"
    call_command("make_pack")
    assert capsys.readouterr().out == "0 packs made, 0 failed.\n"
