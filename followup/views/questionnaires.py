"""What a patient sees: a page that a link opens, without a sign-in and without a name."""

import logging
from collections.abc import Callable
from datetime import datetime
from functools import wraps
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.views.decorators.http import require_http_methods, require_safe

from followup.forms.questionnaires import PageForm
from followup.models import Invitation
from followup.rules import alarms, languages, questions
from followup.selectors import invitations as selector
from followup.selectors import questionnaires
from followup.services import answers as service
from followup.services import throttling
from registry.errors import HoldfastError, StaleVersion
from registry.rules import addresses

COOKIE, SALT, COOKIE_SECONDS = f"{settings.SECURE_COOKIE}questionnaire", "questionnaire", 12 * 3600
TEN_MINUTES = 600
# So many knocks in ten minutes: by address, by link, and pages of one that is open.
BY_ADDRESS, BY_LINK, BY_PAGES = 60, 20, 300
START, CHECK = "start", "check"
FIRST_PAGE = questions.Page(START, (questions.WHO,))

View = Callable[..., HttpResponse]
log = logging.getLogger(__name__)


def private(view: View) -> View:
    """Let in without a sign-in, keep out of every cache and index."""

    @wraps(view)
    def inside(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        answer = view(request, *args, **kwargs)
        answer.headers["Cache-Control"] = "no-store, private"
        answer.headers["X-Robots-Tag"] = "noindex, nofollow"
        # The address of a page with a form holds no secret, and without an origin to name a browser
        # would be refused as a forgery; everywhere else nothing is told.
        answer.headers.setdefault("Referrer-Policy", "no-referrer")
        return answer

    return login_not_required(inside)


@private
@require_safe
def open_link(request: HttpRequest, link: str) -> HttpResponse:
    """Exchange a token for a cookie of this path; whatever the token, the address loses it."""
    now = timezone.now()
    answer = redirect("questionnaire")
    answer.delete_cookie(COOKIE, path=reverse("questionnaire"))
    if not _may_knock(request, link, now):
        answer.headers["Location"] += "?wait=1"
        return answer
    found = selector.link_of(link, now)
    if found is not None:
        _hand_cookie(answer, found.pk)
    return answer


@private
@require_http_methods(["GET", "HEAD", "POST"])
def questionnaire(request: HttpRequest) -> HttpResponse:
    """Show the page where the patient was, or keep what they answered and go on."""
    now, link_id = timezone.now(), _link_id(request)
    if "wait" in request.GET or (
        link_id is not None
        and not throttling.allow(
            key=f"questionnaire-pages:{link_id}", limit=BY_PAGES, seconds=TEN_MINUTES, now=now
        )
    ):
        return _closed(request, 429)
    invitation = selector.invitation_behind(link_id, now) if link_id is not None else None
    if link_id is None or invitation is None:
        return _closed(request, 404)
    with translation.override(languages.TAGS[invitation.language]):
        course = _Course(request, invitation, now)
        try:
            answer = course.answer()
        except HoldfastError as fault:
            kind = type(fault).__name__
            log.warning("the questionnaire of link %s could not be saved: %s", link_id, kind)
            there = selector.invitation_behind(link_id, now)
            if there is None or there.completed_at is not None:
                # Answered on another device, or withdrawn, while this page was open.
                answer = redirect("questionnaire")
            else:
                answer = course.not_saved()
    _hand_cookie(answer, link_id)
    answer.headers["Referrer-Policy"] = "same-origin"
    return answer


class _Course:
    """One patient's way through the pages of one invitation."""

    def __init__(self, request: HttpRequest, invitation: Invitation, now: datetime) -> None:
        self.request, self.invitation, self.now = request, invitation, now
        self.words = questionnaires.words_for(invitation.site_id, invitation.language)
        self.pages = questionnaires.pages_for(invitation, self.words)
        self.order = [START, *(page.code for page in self.pages), CHECK]
        self.given = selector.answers_of(invitation)
        self.unsaved = False

    def answer(self) -> HttpResponse:
        if self.invitation.completed_at is not None:
            return self._show("done", {})
        if self.request.method == "POST":
            return self._take()
        asked = self.request.GET.get("page", "") or self.invitation.at_page
        return self._page(asked if asked in self.order else START)

    def not_saved(self) -> HttpResponse:
        """Show the page that was sent once more, with what was given, and say what to do."""
        self.unsaved = True
        code = self.request.POST.get("page", "")
        if code not in self.order:
            return self._page(START)
        return self._page(code, self._form(code, self.request.POST))

    def _take(self) -> HttpResponse:
        sent = self.request.POST
        if sent.get("language") in languages.SHIPPED:
            service.speak(invitation=self.invitation, language=sent["language"])
            return self._to(sent.get("page", ""))
        code = sent.get("page", "")
        if code == CHECK:
            self._complete()
            return self._to("")
        if code not in self.order:
            return self._to("")
        form = self._form(code, sent)
        if not form.is_valid():
            return self._page(code, form)
        if code == START:
            service.begin(invitation=self.invitation, now=self.now)
        service.keep(
            invitation=self.invitation,
            given=form.given(),
            next_page=self._after(code),
            wordings=self.words.rows,
            now=self.now,
        )
        return self._to(self._after(code))

    def _complete(self) -> None:
        try:
            service.complete(invitation=self.invitation, now=self.now)
        except StaleVersion:
            # Somebody worked on the review at the same moment; by now they are done.
            service.complete(invitation=self.invitation, now=self.now)

    def _form(self, code: str, data: Any = None) -> PageForm:
        page = next((page for page in self.pages if page.code == code), None)
        return PageForm(data, page=page or FIRST_PAGE, answers=self.given)

    def _page(self, code: str, form: PageForm | None = None) -> HttpResponse:
        if code == CHECK:
            return self._show(CHECK, {"lines": self._lines()})
        shown = form or self._form(code)
        return self._show("page", {"form": shown, "is_start": code == START}, code)

    def _show(self, kind: str, more: dict[str, Any], code: str = CHECK) -> HttpResponse:
        at = self.order.index(code)
        site = self.invitation.site
        urgent = bool(alarms.alarms(self.given))
        context = {
            "site": site,
            "telephone": site.telephone,
            "language": languages.TAGS[self.invitation.language],
            "languages": self._other_languages(),
            "code": code,
            "unsaved": self.unsaved,
            "back": self.order[at - 1] if at > 0 else "",
            "number": at,
            "of": len(self.pages),
            "advice": questionnaires.advice_for(site.pk, self.invitation.language)
            if urgent
            else "",
            **more,
        }
        return render(self.request, f"followup/questionnaire_{kind}.html", context)

    def _other_languages(self) -> list[tuple[str, str, str]]:
        return [
            (code, languages.TAGS[code], languages.SHIPPED[code])
            for code in questionnaires.languages_of(self.invitation.site_id)
            if code != self.invitation.language
        ]

    def _lines(self) -> list[tuple[str, str, str]]:
        """Return each page's code with its questions and the answers to them in words."""
        lines = []
        for page in (FIRST_PAGE, *self.pages):
            for question in page.questions:
                said = (lambda words: words) if question.pasted else translation.gettext
                words = {choice.code: said(choice.words) for choice in question.choices}
                value = self.given.get(question.code, "")
                lines.append((page.code, said(question.words), words.get(value, value)))
        return lines

    def _after(self, code: str) -> str:
        return self.order[min(self.order.index(code) + 1, len(self.order) - 1)]

    def _to(self, code: str) -> HttpResponse:
        answer = redirect("questionnaire")
        if code in self.order:
            answer.headers["Location"] += f"?page={code}"
        return answer


def _closed(request: HttpRequest, status: int) -> HttpResponse:
    """Say the same whether a link is unknown, over, answered or withdrawn, and where to ring."""
    spoken = languages.shipped(translation.get_language_from_request(request))
    with translation.override(languages.TAGS[spoken]):
        return render(
            request,
            "followup/questionnaire_closed.html",
            {
                "routes": questionnaires.routes(),
                "language": languages.TAGS[spoken],
                "wait": status == 429,
            },
            status=status,
        )


def _may_knock(request: HttpRequest, token: str, now: datetime) -> bool:
    by_link = throttling.allow(
        key=f"questionnaire-link:{selector.hash_of(token)}",
        limit=BY_LINK,
        seconds=TEN_MINUTES,
        now=now,
    )
    by_address = throttling.allow(
        key=f"questionnaire-address:{selector.hash_of(_address(request))}",
        limit=BY_ADDRESS,
        seconds=TEN_MINUTES,
        now=now,
    )
    return by_link and by_address


def _address(request: HttpRequest) -> str:
    return addresses.client_address(
        passed=request.headers.get("X-Forwarded-For", ""),
        remote=request.META.get("REMOTE_ADDR", ""),
        proxies=settings.PROXIES,
    )


def _hand_cookie(answer: HttpResponse, link_id: int) -> None:
    answer.set_cookie(
        COOKIE,
        signing.dumps(link_id, salt=SALT),
        max_age=COOKIE_SECONDS,
        path=reverse("questionnaire"),
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def _link_id(request: HttpRequest) -> int | None:
    try:
        return int(
            signing.loads(request.COOKIES.get(COOKIE, ""), salt=SALT, max_age=COOKIE_SECONDS)
        )
    except (signing.BadSignature, TypeError, ValueError):
        return None
