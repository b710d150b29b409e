from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from registry.errors import NotAllowed
from registry.forms import setup as forms
from registry.models.constructs import ConstructType
from registry.models.people import Person
from registry.models.sites import Membership, Site
from registry.selectors.factors import factors_of
from registry.selectors.people import people_here, wholly_here
from registry.selectors.sessions import open_sessions
from registry.selectors.visible import require, visible
from registry.services import factors, hospital_sign_in, sessions
from registry.services import setup as service
from registry.views.conflicts import try_to_save
from registry.views.step_up import confirmed, confirmed_first

PER_PAGE = 50
SECTIONS = (
    ("setup-sites", "Sites", "The hospitals and clinics, their time zone and public holidays."),
    ("setup-people", "People and roles", "Who may sign in, and what they may do where."),
    ("setup-sign-ins", "Sign-ins", "Who came in, who tried, what became of factors and sessions."),
    ("setup-construct-types", "Construct types", "What figures are grouped by; removal windows."),
    ("setup-implants", "Implants", "Which are used here; what a scanned draft is."),
    ("setup-protocols", "Protocols", "When patients come back and what is collected; by version."),
    ("setup-clinics", "Clinic days", "When clinic is held, and on which days it is not."),
    (
        "setup-contact",
        "Contact",
        "How often and by what means a patient is tried, and when to stop.",
    ),
    ("setup-readings", "Second readings", "Which films are read twice, and when a third is asked."),
    ("setup-union", "Union on films", "How many bridged cortices each site calls united."),
    ("setup-questionnaires", "Questionnaires", "What patients are asked at home, in whose words."),
    ("setup-calendars", "Calendar addresses", "Who reads clinics in a calendar; names or none."),
    ("setup-messages", "Messages", "By which means, when and how often; the words; what failed."),
    (
        "setup-hospital",
        "Hospital's system",
        "Whose messages about patients and slots are taken, and how long they are kept.",
    ),
    ("setup-retention", "Keeping", "How long what is kept, and proof of what was destroyed."),
    ("background", "Background work", "What runs at night and all day, and what is stuck."),
    (
        "setup-monitoring",
        "Monitoring",
        "Each site's own policy: funnels of surgeons, running charts.",
    ),
    ("setup-definitions", "Primary definitions", "What each site calls a lost reduction."),
)


@require_GET
def setup(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    return render(request, "registry/setup.html", {"sections": list(_sections())})


def _sections() -> Any:
    for name, word, text in SECTIONS:
        try:
            yield {"url": reverse(name), "word": word, "text": text}
        except NoReverseMatch:
            continue


@require_GET
def sites(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    rows = visible(request.user, Site, "set_up")
    return render(request, "registry/setup_sites.html", {"sites": rows})


@require_http_methods(["GET", "POST"])
@confirmed
def site_add(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    form = forms.SiteForm(request.POST or None)

    def save() -> str:
        values = {name: form.cleaned_data[name] for name in forms.SITE}
        site = service.add_site(
            values=values, by=request.user, now=timezone.now(), today=timezone.localdate()
        )
        return f"Added: {site}. You administer it; now add its people."

    return form_page(request, form, "Add a site", save, dict, "setup-sites")


@require_http_methods(["GET", "POST"])
def site(request: HttpRequest, site_id: int) -> HttpResponse:
    require(request.user, "set_up")
    row = get_object_or_404(visible(request.user, Site, "set_up"), pk=site_id)
    form = forms.SiteForm(request.POST or None, initial=_now(row, forms.SITE))

    def save() -> str:
        service.save_site(
            site=row,
            values={name: form.cleaned_data[name] for name in forms.SITE},
            expected_version=form.cleaned_data["version"],
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return f"Saved: {row}."

    def saved_now() -> dict[str, Any]:
        return _now(Site.objects.get(pk=row.pk), forms.SITE)

    return form_page(request, form, f"Site: {row}", save, saved_now, "setup-sites")


@require_GET
def construct_types(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    rows = visible(request.user, ConstructType, "set_up")
    return render(request, "registry/setup_construct_types.html", {"types": rows})


@require_http_methods(["GET", "POST"])
def construct_type_add(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    form = forms.ConstructTypeForm(request.POST or None)

    def save() -> str:
        values = {name: form.cleaned_data[name] for name in forms.CONSTRUCT_TYPE}
        row = service.save_construct_type(
            row=ConstructType(), values=values, expected_version=1, by=request.user
        )
        return f"Added: {row}."

    return form_page(request, form, "Add a construct type", save, dict, "setup-construct-types")


@require_http_methods(["GET", "POST"])
def construct_type(request: HttpRequest, type_id: int) -> HttpResponse:
    require(request.user, "set_up")
    row = get_object_or_404(visible(request.user, ConstructType, "set_up"), pk=type_id)
    form = forms.ConstructTypeForm(request.POST or None, initial=_now(row, forms.CONSTRUCT_TYPE))

    def save() -> str:
        service.save_construct_type(
            row=row,
            values={name: form.cleaned_data[name] for name in forms.CONSTRUCT_TYPE},
            expected_version=form.cleaned_data["version"],
            by=request.user,
        )
        return f"Saved: {row}."

    def saved_now() -> dict[str, Any]:
        return _now(ConstructType.objects.get(pk=row.pk), forms.CONSTRUCT_TYPE)

    return form_page(
        request, form, f"Construct type: {row}", save, saved_now, "setup-construct-types"
    )


@require_GET
def people(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    page = Paginator(people_here(request.user), PER_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "today": timezone.localdate(), "query": ""}
    return render(request, "registry/setup_people.html", context)


@require_http_methods(["GET", "POST"])
@confirmed_first
def person_add(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    sites_here = visible(request.user, Site, "set_up")
    form = forms.PersonForm(request.POST or None, sites=sites_here)

    def save() -> str:
        cleaned = dict(form.cleaned_data)
        first_role = (cleaned.pop("site"), cleaned.pop("role"), timezone.localdate())
        somebody = service.add_person(**cleaned, first_role=first_role, by=request.user)
        return f"Added: {somebody}."

    return form_page(request, form, "Add a person", save, dict, "setup-people")


@require_http_methods(["GET", "POST"])
@confirmed_first
def person(request: HttpRequest, person_id: int) -> HttpResponse:
    require(request.user, "set_up")
    somebody = get_object_or_404(people_here(request.user), pk=person_id)
    mine = wholly_here(request.user, somebody)
    form = forms.ChangePersonForm(
        request.POST or None, username=somebody.username, initial=_now(somebody, forms.PERSON)
    )
    conflict = None

    def save() -> str:
        cleaned = dict(form.cleaned_data)
        expected = cleaned.pop("version")
        saved = service.change_person(
            person=somebody,
            **cleaned,
            expected_version=expected,
            by=request.user,
            now=timezone.now(),
        )
        return f"Saved: {saved}."

    def saved_now() -> dict[str, Any]:
        return _now(Person.objects.get(pk=somebody.pk), forms.PERSON)

    if request.method == "POST":
        _only_if(mine, somebody)
        if form.is_valid():
            done, conflict = try_to_save(request, form, save, saved_now)
            if done:
                return redirect("setup-people")
    context = {
        "person": somebody,
        "form": form if mine else None,
        "conflict": conflict,
        "roles": somebody.roles_here,
        "factors": factors_of(somebody) if mine else [],
        "sessions": open_sessions(somebody, now=timezone.now()) if mine else [],
        "today": timezone.localdate(),
    }
    return render(request, "registry/setup_person.html", context, status=409 if conflict else 200)


@require_POST
def person_end(request: HttpRequest, person_id: int) -> HttpResponse:
    """End every session of a person, and revoke their tokens and calendar addresses."""
    require(request.user, "set_up")
    somebody = get_object_or_404(people_here(request.user), pk=person_id)
    _only_if(wholly_here(request.user, somebody), somebody)
    ended, revoked = sessions.shut_out(person=somebody, by=request.user, now=timezone.now())
    messages.success(
        request, f"{somebody} is signed out: {ended} sessions ended, {revoked} tokens revoked."
    )
    return redirect("setup-person", somebody.pk)


@require_http_methods(["GET", "POST"])
@confirmed
def person_factors(request: HttpRequest, person_id: int) -> HttpResponse:
    """Take a lost second factor of a person away."""
    require(request.user, "set_up")
    somebody = get_object_or_404(people_here(request.user), pk=person_id)
    _only_if(wholly_here(request.user, somebody), somebody)
    form = forms.RemoveFactorsForm(request.POST or None)

    def save() -> str:
        factors.remove_factors(
            person=somebody, **form.cleaned_data, by=request.user, now=timezone.now()
        )
        return f"Removed. {somebody} signs in with the password and sets up another."

    heading = f"Remove the second factor of {somebody}"
    return form_page(request, form, heading, save, dict, "setup-people")


@require_http_methods(["GET", "POST"])
@confirmed
def person_tie(request: HttpRequest, person_id: int) -> HttpResponse:
    """Tie a person to the hospital's sign-in, or part them from it."""
    require(request.user, "set_up")
    somebody = get_object_or_404(people_here(request.user), pk=person_id)
    _only_if(wholly_here(request.user, somebody), somebody)
    now = {"subject": hospital_sign_in.subject_of(somebody)}
    form = forms.TieForm(request.POST or None, initial=now)

    def save() -> str:
        subject = form.cleaned_data["subject"].strip()
        who = {"person": somebody, "by": request.user, "now": timezone.now()}
        if subject:
            hospital_sign_in.tie(subject=subject, **who)
            return f"Tied: {somebody} signs in at the hospital."
        hospital_sign_in.part(**who)
        return f"Parted: {somebody} signs in here alone."

    heading = f"The hospital's sign-in of {somebody}"
    return form_page(request, form, heading, save, dict, "setup-people")


def _only_if(mine: bool, somebody: Person) -> None:
    if not mine:
        raise NotAllowed(
            f"{somebody} also works at a site that you do not administer; "
            "an administrator of both can change how they sign in."
        )


@require_http_methods(["GET", "POST"])
@confirmed
def role_grant(request: HttpRequest, person_id: int) -> HttpResponse:
    require(request.user, "set_up")
    somebody = get_object_or_404(people_here(request.user), pk=person_id)
    form = forms.GrantForm(
        request.POST or None,
        sites=visible(request.user, Site, "set_up"),
        initial={"starts_on": timezone.localdate()},
    )

    def save() -> str:
        given = service.grant_role(person=somebody, **form.cleaned_data, by=request.user)
        return f"Given: {given}."

    return form_page(request, form, f"Give a role to {somebody}", save, dict, "setup-people")


@require_http_methods(["GET", "POST"])
@confirmed
def role_grant_known(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    form = forms.KnownPersonForm(
        request.POST or None,
        sites=visible(request.user, Site, "set_up"),
        initial={"starts_on": timezone.localdate()},
    )

    def save() -> str:
        cleaned = dict(form.cleaned_data)
        somebody = service.person_named(cleaned.pop("username"))
        given = service.grant_role(person=somebody, **cleaned, by=request.user)
        return f"Given: {given}."

    heading = "Give a role to somebody who works at another site"
    return form_page(request, form, heading, save, dict, "setup-people")


@require_http_methods(["GET", "POST"])
def role_end(request: HttpRequest, membership_id: int) -> HttpResponse:
    require(request.user, "set_up")
    rows = visible(request.user, Membership, "set_up").filter(ends_on__isnull=True)
    membership = get_object_or_404(rows.select_related("person", "site"), pk=membership_id)
    form = forms.EndRoleForm(request.POST or None, initial={"ends_on": timezone.localdate()})

    def save() -> str:
        service.end_role(membership=membership, on=form.cleaned_data["ends_on"], by=request.user)
        return f"Ended on {form.cleaned_data['ends_on']}: {membership}."

    return form_page(request, form, f"End a role: {membership}", save, dict, "setup-people")


def _now(row: Any, names: tuple[str, ...]) -> dict[str, Any]:
    return {**{name: getattr(row, name) for name in names}, "version": row.version}


def form_page(
    request: HttpRequest,
    form: Any,
    heading: str,
    save: Callable[[], str],
    saved_now: Callable[[], dict[str, Any]],
    back: str,
) -> HttpResponse:
    """Show one form as a page; save it when it is sent, and show both where somebody was quicker."""
    conflict = None
    if request.method == "POST" and form.is_valid():
        done, conflict = try_to_save(request, form, save, saved_now)
        if done:
            return redirect(back)
    context = {"form": form, "heading": heading, "conflict": conflict, "back": reverse(back)}
    return render(request, "registry/setup_form.html", context, status=409 if conflict else 200)
