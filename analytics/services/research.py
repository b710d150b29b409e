"""Projects of research and their extracts: what they may hold, who made them, what left when."""

import secrets
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import pandas as pd
from django.conf import settings
from django.db import transaction

from analytics.exchange import extract
from analytics.models.research import (
    AgeHandling,
    DateHandling,
    ResearchExtract,
    ResearchKey,
    ResearchProject,
    ResearchSite,
)
from analytics.models.snapshots import Snapshot
from analytics.rules import extracts
from analytics.rules.pseudonyms import KEY_BYTES
from analytics.rules.suppression import HIDE_UP_TO
from analytics.services import releases, snapshots
from registry.errors import BadInput
from registry.models.people import Person
from registry.models.sites import Site
from registry.selectors import choices
from registry.selectors.visible import site_ids
from registry.services import audit, kept_secrets, records

PURPOSE = b"holdfast: keys of research projects"
LONGEST = {"name": 120, "purpose": 1000, "approval": 200}
NEEDED = {
    "name": "Give the project a name.",
    "purpose": "Say what the project asks.",
    "approval": "Give the reference of the approval under which data may be shared.",
}


@dataclass(frozen=True)
class Made:
    """An extract as it is handed out: its file, what it is called, and its line in the list."""

    content: bytes
    file_name: str
    row: ResearchExtract


def open_project(
    *,
    sites: Collection[Site],
    name: str,
    purpose: str,
    approval: str,
    starts_on: date,
    ends_on: date,
    columns: Collection[str],
    dates: str,
    ages: str,
    by: Person,
    now: datetime,
) -> ResearchProject:
    """Write down a project and make its secret, which nobody is shown.

    Raises BadInput by field for what is missing or cannot be, or for a site whose data `by` may not take.
    """
    said = {"name": name.strip(), "purpose": purpose.strip(), "approval": approval.strip()}
    faults = _faults(said, sites, columns, by)
    if ends_on < starts_on:
        faults["ends_on"] = f"The last day, {ends_on}, is before the first, {starts_on}."
    if dates not in DateHandling.values:
        faults["dates"] = f"'{dates}' is none of {', '.join(DateHandling.values)}."
    if ages not in AgeHandling.values:
        faults["ages"] = f"'{ages}' is none of {', '.join(AgeHandling.values)}."
    if faults:
        raise BadInput(faults)
    with records.change(by=by, reason=f"research project opened: {said['approval']}"[:400]):
        made = ResearchProject.objects.create(
            **said,
            starts_on=starts_on,
            ends_on=ends_on,
            columns=sorted(set(columns)),
            dates=dates,
            ages=ages,
            made_at=now,
            made_by=by,
        )
        for site in sites:
            ResearchSite.objects.create(project=made, site=site)
        secret = secrets.token_hex(KEY_BYTES)
        ResearchKey.objects.create(project=made, kept=kept_secrets.encrypt(secret, PURPOSE))
    return made


def close_project(*, project: ResearchProject, because: str, by: Person, now: datetime) -> None:
    """End a project before its last day; its pseudonyms can be made by nobody any more.

    Raises BadInput without a reason, or for one that was closed already.
    """
    if not because.strip():
        raise BadInput({"because": "Say why the project ends."})
    with records.change(by=by, reason=f"research project closed: {because}"[:400]):
        closed = ResearchProject.objects.filter(pk=project.pk, closed_at__isnull=True).update(
            closed_at=now, closed_by=by, closed_because=because.strip()[:300]
        )
        if not closed:
            raise BadInput(f"{project} was closed already.")
        ResearchKey.objects.filter(project=project).delete()


def take_extract(
    *, project: ResearchProject, in_spite: bool, by: Person, now: datetime, today: date
) -> Made:
    """Make an extract of a project as data and choices are at this moment, and write down that it left.

    `in_spite` says that whoever takes it knows that a few patients could be told by taking it from
    what left before. Raises BadInput outside the project's days, where its key is gone, where it
    would hold too few patients, or where a few could be told and nobody said that they know;
    `SecretUnreadable` where the key cannot be opened.
    """
    _still_open(project, today)
    plan = plan_of(project)
    snapshot = snapshots.current(now=now, today=today)
    frames = snapshots.frames_of(snapshot)
    what = f"rows for research, project {project.pk}"
    with records.change(by=by, reason=f"extract for research: {project}"[:400]):
        # The lock makes two who let something out at once come one after the other.
        list(
            Site.objects.select_for_update(no_key=True).order_by("pk").values_list("pk", flat=True)
        )
        cases, left_out = _cases(project, frames.cases, snapshot)
        keys = sorted(set(cases["patient_key"]))
        if len(keys) <= HIDE_UP_TO:
            raise BadInput(
                f"An extract of so few patients would be a list of persons: it takes {HIDE_UP_TO + 1} "
                "or more. Wait until more are in it, or add a site."
            )
        near = releases.near_to(keys=keys, what=what)
        if near and not in_spite:
            raise BadInput({"in_spite": _near(near)})
        about = _about(project, snapshot, len(cases), left_out)
        content = extract.packed(extract.tables(frames, cases, plan), about, plan)
        release = releases.note_rows(
            keys=keys,
            what=what,
            cohort=f"research: {project.approval}",
            snapshot_hash=snapshot.content_hash,
            content=content,
            by=by,
            now=now,
        )
        row = ResearchExtract.objects.create(
            project=project,
            at=now,
            by=by,
            snapshot_hash=snapshot.content_hash,
            content_hash=release.content_hash,
            patients=len(keys),
            left_out=left_out,
        )
    audit.record_taken(
        by=by,
        table=ResearchProject._meta.db_table,
        row_id=str(project.pk),
        now=now,
        what=f"extract for research taken: {project}, {project.approval}",
    )
    return Made(content, f"research-{project.pk}-{release.content_hash[:12]}.zip", row)


def plan_of(project: ResearchProject) -> extracts.Plan:
    """Return what a project takes, with its secret.

    Raises BadInput where its key is gone, SecretUnreadable where it cannot be opened.
    """
    key = ResearchKey.objects.filter(project=project).first()
    if key is None:
        raise BadInput(
            f"The key of {project} is not here: it goes when a project is closed and does not come "
            "along in an archive. Open a new project; its pseudonyms will be other ones."
        )
    secret = bytes.fromhex(kept_secrets.decrypt(key.kept, PURPOSE))
    return extracts.Plan(secret, frozenset(project.columns), project.dates, project.ages)


def renew_keys() -> int:
    """Encrypt the key of every project with the present secret key; return how many.

    Raises SecretUnreadable where no key in the settings opens one.
    """
    renewed = 0
    with transaction.atomic():
        for row in ResearchKey.objects.select_for_update().order_by("pk"):
            row.kept = kept_secrets.encrypt(kept_secrets.decrypt(row.kept, PURPOSE), PURPOSE)
            row.save(update_fields=["kept"])
            renewed += 1
    return renewed


def _faults(
    said: dict[str, str], sites: Collection[Site], columns: Collection[str], by: Person
) -> dict[str, str]:
    faults = {name: NEEDED[name] for name, words in said.items() if not words}
    for name, longest in LONGEST.items():
        if len(said[name]) > longest:
            faults[name] = f"At most {longest} letters; this has {len(said[name])}."
    if not sites:
        faults["sites"] = "Choose a site whose data the project is about."
    elif foreign := {site.pk for site in sites} - set(site_ids(by, "take_data")):
        faults["sites"] = f"You may not take data of {len(foreign)} of these sites."
    if not columns:
        faults["columns"] = "Choose the columns that the project needs, and no more."
    elif unknown := extracts.unknown(columns):
        faults["columns"] = f"Not offered: {', '.join(unknown)}."
    return faults


def _still_open(project: ResearchProject, today: date) -> None:
    if project.closed_at is not None:
        raise BadInput(f"{project} was closed: {project.closed_because}.")
    if not project.starts_on <= today <= project.ends_on:
        raise BadInput(
            f"{project} takes extracts from {project.starts_on} until {project.ends_on}; today is {today}. "
            "Open a new project under an approval that covers today."
        )


def _cases(
    project: ResearchProject, cases: pd.DataFrame, snapshot: Snapshot
) -> tuple[pd.DataFrame, str]:
    """Return the cases of a project's sites that may be shared, and how many others there are."""
    codes = set(project.sites.values_list("code", flat=True))
    here = cases.loc[cases["site"].isin(codes)]
    out = here["patient_key"].isin(set(choices.not_shared()))
    # Of whoever opted out wholly a snapshot has the number alone.
    by_site: dict[str, int] = snapshot.row_counts.get("opted_out", {})
    wholly = sum(number for code, number in by_site.items() if code in codes)
    return here.loc[~out], extracts.about_so_many(int(out.sum()) + wholly)


def _near(number: int) -> str:
    return (
        f"{number} {'list' if number == 1 else 'lists'} of patients that left the team before "
        f"{'is' if number == 1 else 'are'} this extract and 1 to {HIDE_UP_TO} patients more: whoever holds "
        "both could tell of those few. Confirm that you know, and bind the project not to try."
    )


def _about(
    project: ResearchProject, snapshot: Snapshot, cases: int, left_out: str
) -> dict[str, Any]:
    return {
        "project": project.name,
        "purpose": project.purpose,
        "approval": project.approval,
        "from": project.starts_on.isoformat(),
        "until": project.ends_on.isoformat(),
        "cases": cases,
        "left_out": (
            f"{left_out} of the operations here, whose patients do not let their data be shared or used"
        ),
        "dates": extracts.DATES[project.dates],
        "ages": extracts.AGES[project.ages],
        "pseudonyms": "of this project alone; its key is not in this file",
        "cutoff": snapshot.cutoff.isoformat(),
        "snapshot": snapshot.content_hash,
        "code_version": settings.CODE_VERSION,
        "caution": (
            "pseudonymous, not anonymous: somebody who knows a patient's course may know them again; "
            "do not try, and do not join it with anything else"
        ),
    }
