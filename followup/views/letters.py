import hashlib
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from followup.forms.letters import LetterForm, SendForm
from followup.models import Letter, Review
from followup.models.letters import LetterKind, LetterState
from followup.rules.letters import COMPOSERS, content_hash
from followup.selectors import clinic
from followup.selectors import letters as selector
from followup.services import letters as service
from registry.errors import BadInput, HoldfastError
from registry.selectors.visible import require, site_ids
from registry.services import audit
from registry.views.conflicts import try_to_save


@require_GET
def of_visit(request: HttpRequest, review_id: int) -> HttpResponse:
    review = _review(request, review_id, "see_clinic")
    _note_read(request, review)
    context = {
        "review": review,
        "injury": review.procedure.injury,
        "lines": selector.letters_of(review),
        "may_write": review.site_id in site_ids(request.user, "record_visit"),
    }
    return render(request, "followup/visit_letters.html", context)


@require_http_methods(["GET", "POST"])
def write(request: HttpRequest, review_id: int, kind: str) -> HttpResponse:
    if kind not in COMPOSERS:
        raise Http404
    review = _review(request, review_id, "record_visit")
    if review.attended_on is None:
        messages.error(request, "Record the visit first; then its note and letters are composed.")
        return redirect("clinic-visit", review_id=review.pk)
    line = next(one for one in selector.letters_of(review) if one.kind == kind)
    draft = next((one for one in line.letters if one.state == LetterState.DRAFT), None)
    head = selector.head_of(review)
    form = LetterForm(request.POST or None, initial=_proposal(request, review, kind, draft))
    conflict = None
    if request.method == "POST" and form.is_valid():
        done, conflict = try_to_save(
            request, form, lambda: _save(request, review, kind, draft, form), lambda: _now(draft)
        )
        if done:
            return redirect("visit-letters", review_id=review.pk)
    if request.method == "GET":
        _note_read(request, review)
    context = {
        "review": review,
        "injury": review.procedure.injury,
        "line": line,
        "draft": draft,
        "head": head,
        "form": form,
        "has_addressee": kind != LetterKind.NOTE,
        "conflict": conflict,
    }
    status = 409 if conflict else 200
    return render(request, "followup/letter_write.html", context, status=status)


@require_GET
def letter(request: HttpRequest, letter_id: int) -> HttpResponse:
    found = _letter(request, letter_id, "see_clinic")
    _note_read(request, found.review)
    return _shown(request, found, SendForm(initial=_sending(found)))


@require_POST
def send(request: HttpRequest, letter_id: int) -> HttpResponse:
    found = _letter(request, letter_id, "record_contact")
    form = SendForm(request.POST, initial=_sending(found))
    if form.is_valid():
        try:
            service.send_letter(
                letter=found,
                means=form.cleaned_data["means"],
                on=form.cleaned_data["on"],
                expected_version=form.cleaned_data["version"],
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
            messages.success(request, f"{found} is kept as sent.")
            return redirect("letter", letter_id=found.pk)
        except BadInput as fault:
            form.refuse(fault)
        except HoldfastError as fault:
            form.add_error(None, str(fault))
    found.refresh_from_db()
    return _shown(request, found, form)


@require_GET
def pages(request: HttpRequest, letter_id: int) -> HttpResponse:
    found = _letter(request, letter_id, "see_clinic")
    _note_read(request, found.review)
    text = selector.text_of(found)
    made = text.pages
    if made is None:
        try:
            made = service.set_pages(
                letter=found, text=text, sent_on=found.sent_on, at=text.saved_at
            )
        except BadInput as fault:
            messages.error(request, str(fault))
            return redirect("letter", letter_id=found.pk)
    answer = HttpResponse(bytes(made), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="letter-{found.pk}.pdf"'
    answer["Cache-Control"] = "private, no-store"
    return answer


@require_GET
def words(request: HttpRequest, letter_id: int) -> HttpResponse:
    found = _letter(request, letter_id, "see_clinic")
    _note_read(request, found.review)
    text = selector.text_of(found)
    parts = ["\n".join(text.head), text.addressee, text.body]
    told = "\n\n".join(part for part in parts if part) + "\n"
    answer = HttpResponse(told, content_type="text/plain; charset=utf-8")
    answer["Cache-Control"] = "private, no-store"
    return answer


def _review(request: HttpRequest, review_id: int, action: str) -> Review:
    review = clinic.open_review(request.user, review_id)
    if review is None:
        require(request.user, action)
        raise Http404
    require(request.user, action, review.site_id)
    return review


def _letter(request: HttpRequest, letter_id: int, action: str) -> Letter:
    found = selector.letter_seen_by(request.user, letter_id)
    if found is None:
        require(request.user, action)
        raise Http404
    require(request.user, action, found.site_id)
    return found


def _note_read(request: HttpRequest, review: Review) -> None:
    patient = review.procedure.injury.patient
    audit.record_read(by=request.user, patient=patient, now=timezone.now(), page="letters")


def _proposal(
    request: HttpRequest, review: Review, kind: str, draft: Letter | None
) -> dict[str, Any]:
    """Start from the draft, or from what was recorded of the visit."""
    if draft is not None:
        return _now(draft)
    body = COMPOSERS[kind](selector.facts_of(review, str(request.user)))
    return {"addressee": selector.addressee_for(review, kind), "body": body}


def _now(draft: Letter | None) -> dict[str, Any]:
    if draft is None:
        return {}
    draft.refresh_from_db()
    text = selector.text_of(draft)
    return {"version": draft.version, "addressee": text.addressee, "body": text.body}


def _save(
    request: HttpRequest, review: Review, kind: str, draft: Letter | None, form: LetterForm
) -> str:
    values = {
        "head": selector.head_of(review),
        "addressee": form.cleaned_data["addressee"].strip(),
        "body": form.cleaned_data["body"].replace("\r\n", "\n").strip(),
        "by": request.user,
        "now": timezone.now(),
    }
    if draft is None:
        service.write_letter(review=review, kind=kind, **values)
    else:
        seen = form.cleaned_data["version"] or 0
        service.change_letter(letter=draft, expected_version=seen, **values)
    return "Kept as a draft; nothing has gone out."


def _sending(found: Letter) -> dict[str, Any]:
    return {"version": found.version, "on": timezone.localdate()}


def _shown(request: HttpRequest, found: Letter, form: SendForm) -> HttpResponse:
    text = selector.text_of(found)
    sent = found.state == LetterState.SENT
    stands = content_hash(text.head, text.addressee, text.body) == found.content_hash
    if sent and text.pages is not None:
        stands &= hashlib.sha256(bytes(text.pages)).hexdigest() == found.pages_hash
    context = {
        "letter": found,
        "injury": found.review.procedure.injury,
        "text": text,
        "versions": selector.versions_of(found),
        "is_sent": sent,
        "stands": stands,
        "form": form,
        "may_write": found.site_id in site_ids(request.user, "record_visit"),
        "may_send": found.site_id in site_ids(request.user, "record_contact"),
    }
    return render(request, "followup/letter.html", context)
