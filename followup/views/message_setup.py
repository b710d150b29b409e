from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.messages import POLICY, WORDS, PolicyForm, WordsForm
from followup.models import MessagePolicy, MessageTemplate, Review
from followup.models.messages import MessagePurpose, TemplateLength
from followup.rules.message_texts import faults_of, text_length
from followup.selectors import messages as selector
from followup.services import message_contents
from followup.services import message_setup as service
from registry.errors import BadInput, StaleVersion
from registry.models.sites import Site
from registry.selectors.visible import require, visible
from registry.views.setup import form_page


@require_GET
def sites(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    return render(
        request,
        "followup/setup_messages.html",
        {
            "sites": visible(request.user, Site, "set_up").select_related("message_policy"),
            "parked": selector.parked_count(request.user),
        },
    )


@require_GET
def site(request: HttpRequest, site_id: int) -> HttpResponse:
    row = _site(request, site_id)
    context = {
        "site": row,
        "policy": selector.policy_of(row),
        "replies_at": _replies_at(request, row),
        "words": [
            (template, text_length(template.body).words if template.length == "short" else "")
            for template in selector.current_templates(row)
        ],
    }
    return render(request, "followup/setup_messages_site.html", context)


def _replies_at(request: HttpRequest, site: Site) -> str:
    """Return where a provider hands answers on; '' while the service has no secret for it."""
    if not settings.REPLY_SECRET:
        return ""
    return request.build_absolute_uri(reverse("v1:api-reply", args=[site.code]))


@require_http_methods(["GET", "POST"])
def policy(request: HttpRequest, site_id: int) -> HttpResponse:
    row = selector.policy_of(_site(request, site_id))
    form = PolicyForm(request.POST or None, initial=_now(row))

    def save() -> str:
        service.save_policy(
            policy=row,
            values={name: form.cleaned_data[name] for name in POLICY},
            expected_version=form.cleaned_data["version"],
            by=request.user,
        )
        return f"Saved: the rules for messages of {row.site}."

    def saved_now() -> dict[str, Any]:
        return _now(selector.policy_of(row.site))

    heading = f"Rules for messages: {row.site}"
    return form_page(request, form, heading, save, saved_now, "setup-messages")


def _now(row: MessagePolicy) -> dict[str, Any]:
    return {name: getattr(row, name) for name in (*POLICY, "version")}


@require_http_methods(["GET", "POST"])
def words_add(request: HttpRequest, site_id: int) -> HttpResponse:
    row = _site(request, site_id)
    return _words_page(request, row, WordsForm(request.POST or None), f"Add words: {row}")


@require_http_methods(["GET", "POST"])
def words(
    request: HttpRequest, site_id: int, purpose: str, length: str, language: str
) -> HttpResponse:
    row = _site(request, site_id)
    if purpose not in MessagePurpose.values or length not in TemplateLength.values:
        raise Http404
    form = WordsForm(
        request.POST or None,
        initial=_words_now(row, purpose, length, language),
        fixed=True,
    )
    heading = f"{MessagePurpose(purpose).label}, {TemplateLength(length).label.lower()}, {language}"
    return _words_page(request, row, form, f"{heading}: {row}")


def _words_now(site: Site, purpose: str, length: str, language: str) -> dict[str, Any]:
    template = selector.template_for(site.pk, purpose, length, [language])
    return {
        "purpose": purpose,
        "length": length,
        "language": language,
        "subject": template.subject if template else "",
        "body": template.body if template else "",
        "version": selector.last_number(site, purpose, length, language),
    }


def _words_page(request: HttpRequest, site: Site, form: WordsForm, heading: str) -> HttpResponse:
    """Show words with a preview for a real case; save them when they are sent to be saved."""
    sent = request.method == "POST" and form.is_valid()
    if sent and "preview" not in request.POST and _saved(request, site, form):
        return redirect("setup-messages-site", site_id=site.pk)
    asked = request.POST if request.method == "POST" else request.GET
    text = asked.get("case", "")
    found = selector.cases(request.user, site, text) if text else []
    chosen = _chosen(found, asked.get("review", ""))
    context = {
        "form": form,
        "heading": heading,
        "site": site,
        "case": text,
        "found": found,
        "chosen": chosen,
        "sees_patients": site.pk in selector.sites_with_names(request.user),
        "shown": _preview(form, site, chosen),
    }
    return render(request, "followup/setup_message_words.html", context)


def _saved(request: HttpRequest, site: Site, form: WordsForm) -> bool:
    given = {name: form.cleaned_data[name] for name in WORDS}
    try:
        made = service.save_template(
            site=site,
            **given,
            expected_number=form.cleaned_data["version"],
            by=request.user,
            now=timezone.now(),
        )
    except BadInput as fault:
        form.refuse(fault)
        return False
    except StaleVersion as fault:
        form.data = form.data.copy()
        form.data["version"] = str(fault.current)
        newest = selector.template_for(
            site.pk, given["purpose"], given["length"], [given["language"]]
        )
        now = f" It now reads: {newest.body}" if newest else ""
        form.add_error(None, f"{fault}{now}")
        return False
    messages.success(request, f"Saved: {made}.")
    return True


def _chosen(found: list[Review], asked: str) -> Review | None:
    by_key = {str(review.pk): review for review in found}
    return by_key.get(asked) or (found[0] if found else None)


def _preview(form: WordsForm, site: Site, review: Review | None) -> dict[str, str] | None:
    """Return the words as they would read, and their length; nothing while they have faults."""
    given = form.cleaned_data if form.is_bound and form.is_valid() else form.initial
    if not given.get("body"):
        return None
    if faults_of(given["purpose"], given["length"], given["subject"], given["body"]):
        return None
    template = MessageTemplate(site=site, **{name: given[name] for name in WORDS})
    draft = message_contents.preview(template, site, review)
    short = template.length == TemplateLength.SHORT
    return {
        "subject": draft.subject,
        "text": draft.text,
        "length": text_length(draft.text).words if short else "",
    }


def _site(request: HttpRequest, site_id: int) -> Site:
    require(request.user, "set_up")
    found: Site = get_object_or_404(visible(request.user, Site, "set_up"), pk=site_id)
    return found
