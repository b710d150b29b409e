"""A chart's page, its file, and fixing and changing its design."""

import csv
import io
import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from analytics.models import ChartDesign
from analytics.services import policies
from registry.models import Person
from tests import builders
from tests.analytics import monitored
from tests.builders import NOW

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]
GIVEN = {
    "version": "0",
    "watched": "loss",
    "construct_type": "",
    "horizon": "6m",
    "odds_ratio": "2",
    "run_length": "60",
    "baseline_from": "2023-01-02",
    "baseline_to": "2024-06-30",
    "starts_on": "2024-07-01",
    "answer_days": "14",
    "reason": "the first eighteen months",
}


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def meeting(client: Client, quality_lead: Person) -> Client:
    client.force_login(quality_lead)
    return client


def text(answer: Any) -> str:
    plain = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", answer.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", unescape(plain))


def test_a_chart_prints_its_design_and_what_its_limit_costs(meeting: Client) -> None:
    row = monitored.signal(builders.site())
    said = text(meeting.get(reverse("signals-chart", args=[row.design_id])))
    design = row.design
    assert f"once in {design.false_alarm:.0f} cases on average" in said
    assert f"after {design.delay:.0f} cases on average" in said
    assert "one rate of 10.8%, from 8 events in 78 cases" in said
    assert "version 1" in said
    assert "had been operated on before this design was fixed" in said
    assert f"Case {row.position + 1}" in said


def test_the_file_of_a_chart_has_every_case_and_the_design(meeting: Client) -> None:
    row = monitored.signal(builders.site())
    answer = meeting.get(reverse("signals-chart-csv", args=[row.design_id]))
    lines = list(csv.reader(io.StringIO(answer.content.decode())))
    made = {line[0]: line[1] for line in lines if line[0].startswith("# ")}
    assert made["# definition"] == "rise-3mm, version 1"
    rows = [line for line in lines if not line[0].startswith("# ")]
    assert rows[0][0] == "case"
    assert len(rows) == 1 + row.design.cases.count()
    assert [line[6] for line in rows[1:]].count("True") == row.design.signals.count()


def test_a_chart_is_off_without_a_policy_and_what_it_raised_is_kept(meeting: Client) -> None:
    row = monitored.signal(builders.site())
    policies.switch_off(site=row.site, because="over", by=row.owner, now=NOW, expected_version=1)
    said = text(meeting.get(reverse("signals-chart", args=[row.design_id])))
    assert "Running charts are off at North Hospital" in said
    assert "Limit" not in said
    assert meeting.get(reverse("signals-one", args=[row.pk])).status_code == 200


def test_a_design_is_refused_by_its_fields_and_nothing_is_saved(
    meeting: Client, quality_lead: Person
) -> None:
    site = builders.site()
    monitored.policy(site)
    url = reverse("signals-design-add", args=[site.pk])
    assert meeting.get(url).status_code == 200
    given = {**GIVEN, "owner": str(quality_lead.pk)}
    said = text(meeting.post(url, {**given, "odds_ratio": "1", "starts_on": "2024-01-01"}))
    assert "and not 1" in said
    assert "The chart starts after its baseline" in said
    assert "No primary definition is chosen" in text(meeting.post(url, given))
    assert not ChartDesign.objects.exists()


def test_a_baseline_without_cases_is_refused_in_words(
    meeting: Client, quality_lead: Person
) -> None:
    site = builders.site()
    monitored.policy(site)
    given = {**GIVEN, "watched": "reoperation", "owner": str(quality_lead.pk)}
    said = text(meeting.post(reverse("signals-design-add", args=[site.pk]), given))
    assert "The baseline has 0 judged cases" in said


def test_a_changed_design_starts_from_the_present_one(meeting: Client) -> None:
    design = monitored.design(builders.site())
    page = meeting.get(reverse("signals-design", args=[design.pk])).content.decode()
    assert 'value="2024-07-01"' in page
    assert re.search(r'name="watched"[^>]*disabled', page)


def test_a_design_is_fixed_by_those_who_settle_signals_only(
    client: Client, surgeon: Person
) -> None:
    design = monitored.design(builders.site())
    client.force_login(surgeon)
    assert client.get(reverse("signals-chart", args=[design.pk])).status_code == 200
    assert client.get(reverse("signals-design", args=[design.pk])).status_code == 403
