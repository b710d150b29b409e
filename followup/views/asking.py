from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.asking import SETUP, AdviceForm, ContentsForm, SetupForm, WordingForm
from followup.models import QuestionnaireSetup, Wording
from followup.rules import languages, wordings
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.selectors import asking as selector
from followup.selectors import questionnaires
from followup.selectors.visible import visible
from followup.services import questionnaires as service
from registry.models.sites import Site
from registry.selectors.visible import require
from registry.views.conflicts import try_to_save


@require_GET
def sites(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    lines = selector.site_lines(request.user)
    return render(request, "followup/setup_questionnaires.html", {"lines": lines})


@require_GET
def site(request: HttpRequest, site_id: int) -> HttpResponse:
    row = _site(request, site_id)
    return render(
        request,
        "followup/setup_questionnaire_site.html",
        {
            "site": row,
            "setup": questionnaires.setup_of(row),
            "advice": selector.advice_lines(row),
            "steps": selector.step_lines(row),
            "instruments": selector.instrument_lines(row),
        },
    )


@require_http_methods(["GET", "POST"])
def rules(request: HttpRequest, site_id: int) -> HttpResponse:
    at = _site(request, site_id)
    row = questionnaires.setup_of(at)
    form = SetupForm(request.POST or None, initial=_now(row))

    def save() -> str:
        service.save_setup(
            row=row,
            values={name: form.cleaned_data[name] for name in SETUP},
            expected_version=form.cleaned_data["version"],
            by=request.user,
        )
        return f"Saved: questionnaires of {at}."

    def saved_now() -> dict[str, Any]:
        return _now(QuestionnaireSetup.objects.get(site=at))

    return _form_page(request, form, f"How {at} asks at home", save, saved_now, at)


@require_http_methods(["GET", "POST"])
def advice(request: HttpRequest, site_id: int, language: str) -> HttpResponse:
    at = _site(request, site_id)
    if language not in languages.SHIPPED:
        raise Http404

    def present() -> dict[str, Any]:
        line = next(one for one in selector.advice_lines(at) if one.language == language)
        return {"version": line.number, "text": line.text}

    form = AdviceForm(request.POST or None, initial=present())

    def save() -> str:
        service.save_advice(
            site=at,
            language=language,
            text=form.cleaned_data["text"],
            expected_latest=form.cleaned_data["version"],
            by=request.user,
            now=timezone.now(),
        )
        return f"Saved: the advice in {languages.SHIPPED[language]}."

    heading = f"Urgent advice of {at} in {languages.SHIPPED[language]}"
    return _form_page(request, form, heading, save, present, at)


@require_http_methods(["GET", "POST"])
def step(request: HttpRequest, site_id: int, step_code: str) -> HttpResponse:
    at = _site(request, site_id)
    found = next((one for one in selector.steps_of(at) if one.code == step_code), None)
    if found is None:
        raise Http404

    def present() -> dict[str, Any]:
        chosen = questionnaires.chosen_contents(at.pk)
        return {
            "version": selector.latest_number(at, step_code),
            "contents": list(questionnaires.contents_of(found, chosen)),
        }

    choices = list(selector.names().items())
    form = ContentsForm(request.POST or None, initial=present(), choices=choices)

    def save() -> str:
        service.choose_contents(
            site=at,
            step_code=step_code,
            contents=form.cleaned_data["contents"],
            expected_latest=form.cleaned_data["version"],
            by=request.user,
            now=timezone.now(),
        )
        return f"Saved: what is asked for {found.name}. Who is invited already is asked as before."

    return _form_page(request, form, f"What {at} asks at home for {found.name}", save, present, at)


@require_http_methods(["GET", "POST"])
def wording_add(request: HttpRequest, site_id: int) -> HttpResponse:
    at = _site(request, site_id)
    form = WordingForm(request.POST or None)
    made: list[Wording] = []

    def save() -> str:
        row = service.add_wording(site=at, **form.cleaned_data, by=request.user, now=timezone.now())
        made.append(row)
        return "Kept, and not in use yet. Read it as a patient would, then take it into use."

    answer = _form_page(
        request, form, f"Wording of an instrument, under a licence of {at}", save, dict, at
    )
    return redirect("setup-wording", made[0].pk) if made else answer


@require_http_methods(["GET", "POST"])
def wording(request: HttpRequest, wording_id: int) -> HttpResponse:
    require(request.user, "set_up")
    rows = visible(request.user, Wording, "set_up").select_related("site", "made_by")
    row = get_object_or_404(rows, pk=wording_id)
    if request.method == "POST":
        service.use_wording(wording=row, in_use="use" in request.POST, by=request.user)
        return redirect("setup-questionnaire-site", row.site_id)
    return render(
        request,
        "followup/setup_wording.html",
        {
            "wording": row,
            "name": INSTRUMENTS[row.instrument].name,
            "items": wordings.restored(row.items),
            "tag": languages.TAGS[row.language],
        },
    )


def _site(request: HttpRequest, site_id: int) -> Site:
    require(request.user, "set_up")
    found: Site = get_object_or_404(visible(request.user, Site, "set_up"), pk=site_id)
    return found


def _now(row: QuestionnaireSetup) -> dict[str, Any]:
    return {name: getattr(row, name) for name in (*SETUP, "version")}


def _form_page(
    request: HttpRequest,
    form: Any,
    heading: str,
    save: Callable[[], str],
    saved_now: Callable[[], dict[str, Any]],
    at: Site,
) -> HttpResponse:
    conflict, back = None, reverse("setup-questionnaire-site", args=[at.pk])
    if request.method == "POST" and form.is_valid():
        done, conflict = try_to_save(request, form, save, saved_now)
        if done:
            return redirect(back)
    context = {"form": form, "heading": heading, "conflict": conflict, "back": back}
    return render(request, "registry/setup_form.html", context, status=409 if conflict else 200)
