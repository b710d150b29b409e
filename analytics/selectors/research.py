"""The projects of research that a person may take extracts for, and what each took so far."""

from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Count, QuerySet

from analytics.models.research import ResearchExtract, ResearchProject
from analytics.rules import extracts
from analytics.rules.dictionary import Entry
from analytics.selectors.visible import visible
from registry.selectors.visible import Viewer

ACTION = "take_data"
PER_PAGE = 20


def projects(user: Viewer) -> QuerySet[Any]:
    """Return the projects all of whose sites' data a person may take, with how often each took."""
    rows = visible(user, ResearchProject, ACTION).annotate(taken=Count("extracts"))
    found: QuerySet[Any] = rows.select_related("made_by").prefetch_related("sites")
    return found.order_by("-id")


def page_of(rows: QuerySet[Any], number: str | None) -> "Page[Any]":
    """Return one page of projects or of extracts."""
    return Paginator(rows, PER_PAGE).get_page(number)


def extracts_of(project: ResearchProject) -> QuerySet[Any]:
    """Return what a project took, the newest first, with by whom."""
    return ResearchExtract.objects.filter(project=project).select_related("by")


def columns_of(project: ResearchProject) -> list[Entry]:
    """Return the columns of a project's extracts as its files have them, those that join included."""
    made = extracts.entries(project.columns, project.dates, project.ages)
    return [entry for columns in made.values() for _, entry in columns]
