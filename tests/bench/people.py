"""The people of a busy service, for locust: coordinators, surgeons and the quality meeting, at their work.

Each signs in by the form under a name of their own and goes from page to page as the links lead, with a pause
before each in which a person reads or types: coordinators 3 to 10 seconds, surgeons 5 to 20, the meeting 10 to 30.
They note calls, book, type drafts and save visits, over the versions that they saw. An answer counts as an
error when it is not the one expected, by status and by words. `tests/bench/busy.py` starts all of it.
"""

import json
import os
import random
import re
import threading
import time
from collections import Counter
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import gevent
from locust import HttpUser, between, events, task

from analytics.simulation import setting
from tests.bench.forms import Form, form_of

# Names by role and where to write what was counted: `busy.py` says so.
GIVEN = json.loads(Path(os.environ["HOLDFAST_BUSY"]).read_text())
FREE = {role: list(names) for role, names in GIVEN["people"].items()}
TODAY = date.fromisoformat(GIVEN["today"])
DRAW = random.Random(11)  # noqa: S311 - who does what is no secret
HTMX = {"HX-Request": "true"}
# Told by the service in words: a person looks again and goes on. It is counted, and is no error.
TOO_LATE = (
    "taken meanwhile",
    " is taken at ",
    "was changed by somebody",
    "Somebody else saved",
    "It is now ",
)
beaten: Counter[str] = Counter()
lock = threading.Lock()


class Staff(HttpUser):
    """Somebody who is signed in."""

    abstract = True
    role = ""
    # So many of the patients whom lists showed are remembered.
    most_kept = 200

    def on_start(self) -> None:
        """Sign in by the form."""
        # As the proxy that ships: it opens a connection for each request, and answers whoever waits.
        self.client.headers["Connection"] = "close"
        self.patients: list[str] = []
        self.reviews: list[str] = []
        with lock:
            self.name = FREE[self.role].pop()
        page = self.page("/account/sign-in/", "Sign in: form", "Password")
        sent = form_of(page, "account/sign-in").filled(login=self.name, password=setting.PASSWORD)
        self.send("/account/sign-in/", "Sign in", sent, 302, "")
        self.page("/", "Sign in: first page", "Sign out")

    def page(self, path: str, kind: str, words: str, **more: Any) -> str:
        """Return a page that has to be there, with these words in it; '' where it is not."""
        with self.client.get(path, name=kind, catch_response=True, **more) as answer:
            text: str = answer.text or ""
            if answer.status_code != 200:
                answer.failure(f"{answer.status_code} where 200 was expected, {path}")
                return ""
            if words not in text:
                answer.failure(f"no '{words}' on {path}")
                return ""
            return text

    def send(
        self, path: str, kind: str, sent: dict[str, Any], status: int, words: str, **more: Any
    ) -> str:
        """Send a form; return where it leads, '' where it was refused."""
        options = {"name": kind, "catch_response": True, "allow_redirects": False, **more}
        with self.client.post(path, sent, **options) as answer:
            text: str = answer.text or ""
            if answer.status_code != status or words not in text:
                if any(late in text for late in TOO_LATE):
                    answer.success()
                    beaten[kind] += 1
                    return ""
                errors = re.findall(r'class="error[^"]*"[^>]*>(.*?)</', text, re.DOTALL)
                told = re.sub(r"<[^>]+>|\s+", " ", " ".join(errors))[:200]
                answer.failure(f"{answer.status_code} where {status} was expected: {told}")
                return ""
            return str(answer.headers.get("Location", path))

    def think(self) -> None:
        """Do nothing for as long as a person does between two pages."""
        time.sleep(self.wait_time())

    def remember(self, text: str) -> None:
        """Remember the patients and reviews that a page links to."""
        found = re.findall(r'"/patients/([A-Z0-9]{8})/"', text)
        self.patients = (self.patients + found)[-self.most_kept :]

    def look_somebody_up(self) -> None:
        """Find a patient by the beginning of a name, sometimes with more, and open one."""
        family = DRAW.choice(setting.FAMILY_FIRST) + DRAW.choice(setting.FAMILY_LAST)
        given = DRAW.choice((*setting.GIVEN_FEMALE, *setting.GIVEN_MALE))
        typed = DRAW.choice((family, f"{family} {given}", f"{family[:5]} {given[:3]}", family[:4]))
        text = self.page(f"/patients/?q={typed}", "Search", "Sign out")
        self.remember(text)
        self.think()
        if self.patients:
            self.open_patient(DRAW.choice(self.patients))

    def open_patient(self, key: str) -> None:
        """Open a patient's page."""
        self.page(f"/patients/{key}/", "Patient", key)


class Coordinator(Staff):
    """Works down the list of who is due: looks, calls, books."""

    role, weight = "coordinator", 25
    wait_time = between(3, 10)
    shows = (
        "",
        "?show=late",
        "?show=unbooked",
        "?show=closing",
        "?page=2",
        "?page=3",
        "?show=missed",
    )

    def list_due(self, query: str = "") -> None:
        """Open the list of who is due and remember what can be done there."""
        kind = "Due" if query in ("", "?show=all") else "Due, other lists"
        text = self.page(f"/due/{query}", kind, "Who is due?")
        self.remember(text)
        self.reviews = re.findall(r'"/reviews/(\d+)/book/', text) or self.reviews

    @task(6)
    def worklist(self) -> None:
        """Look at one of the lists."""
        self.list_due(DRAW.choice(self.shows))

    @task(4)
    def search(self) -> None:
        """Find a patient who is on the phone."""
        self.look_somebody_up()

    @task(2)
    def patient(self) -> None:
        """Open somebody on the list."""
        if self.patients:
            self.open_patient(DRAW.choice(self.patients))

    @task(3)
    def call(self) -> None:
        """Note a try at reaching somebody."""
        if not self.reviews:
            return self.list_due()
        path = f"/reviews/{DRAW.choice(self.reviews)}/contact/"
        text = self.page(path, "Call: form", "A try at reaching", headers=HTMX)
        if not text:
            return None
        self.think()
        sent = form_of(text, path).filled(outcome="no_answer", note="rang, nobody there")
        self.send(
            path,
            "Call",
            sent,
            204,
            "",
            headers={**HTMX, "X-CSRFToken": sent["csrfmiddlewaretoken"]},
        )
        return self.list_due()

    @task(3)
    def book(self) -> None:
        """Book somebody into a clinic."""
        if not self.reviews:
            return self.list_due("?show=unbooked")
        path = f"/reviews/{DRAW.choice(self.reviews)}/book/"
        text = self.page(path, "Book: form", "Book", headers=HTMX)
        form = form_of(text, path) if text else None
        if form is None or not form.choices.get("slot"):
            return None
        self.think()
        sent = form.filled(slot=DRAW.choice(form.choices["slot"]))
        self.send(
            path,
            "Book",
            sent,
            204,
            "",
            headers={**HTMX, "X-CSRFToken": sent["csrfmiddlewaretoken"]},
        )
        return self.list_due("?show=unbooked")

    @task(2)
    def other_lists(self) -> None:
        """Look at what else a day brings."""
        path, words = DRAW.choice(
            (
                ("/tasks/", "<h1>"),
                ("/hardware/", "Whose hardware needs a decision?"),
                ("/clinic/?who=all", "Who am I seeing?"),
                ("/load/", "<h1>"),
                ("/responses/", "<h1>"),
                ("/messages/", "<h1>"),
            )
        )
        self.page(path, f"List {path.split('?')[0]}", words)


class Surgeon(Staff):
    """Sees patients: the day's list, the visit, the films."""

    role, weight = "surgeon", 18
    wait_time = between(5, 20)

    def list_day(self) -> None:
        """Open a clinic's day and remember its visits."""
        day = TODAY + timedelta(days=DRAW.choice((0, 0, 0, 1, 2, 3, 4)))
        text = self.page(f"/clinic/?day={day}&who=all", "Clinic", "Who am I seeing?")
        self.reviews = re.findall(r'"/clinic/(\d+)/"', text) or self.reviews

    @task(4)
    def day(self) -> None:
        """Look who comes."""
        self.list_day()

    @task(6)
    def visit(self) -> None:
        """Open a visit, type for a while, save it, and see the patient's course."""
        if not self.reviews:
            return self.list_day()
        number = DRAW.choice(self.reviews)
        path = f"/clinic/{number}/"
        text = self.page(path, "Visit: form", "Before")
        if not text or "data-draft=" not in text:
            return None
        sent = self.typed(form_of(text, f"clinic/{number}/draft", by="data-draft"))
        token = {"X-CSRFToken": sent["csrfmiddlewaretoken"], **HTMX}
        for _ in range(DRAW.randint(2, 4)):
            self.send(f"{path}presence/", "Visit: presence", {}, 200, "", headers=token)
            time.sleep(8)
            self.send(f"{path}draft/", "Visit: draft", sent, 200, "", headers=token)
        leads = self.send(path, "Visit", sent, 302, "")
        if leads:
            self.page(leads, "Patient", "Saved:")
        return None

    def typed(self, form: Form) -> dict[str, Any]:
        """Return what a surgeon fills in: motion, pain, a score, a word about what next."""
        return form.filled(
            visited_on=TODAY.isoformat(),
            flexion_deg=str(DRAW.randint(90, 170)),
            abduction_deg=str(DRAW.randint(90, 170)),
            external_rotation_deg=str(DRAW.randint(20, 70)),
            pain_nrs=str(DRAW.randint(0, 5)),
            sane=str(DRAW.randint(60, 95)),
            next_step_note="as planned",
            checked="on",
        )

    @task(3)
    def search(self) -> None:
        """Find a patient."""
        self.look_somebody_up()

    @task(3)
    def films(self) -> None:
        """Go from the list of films to one of them."""
        text = self.page("/films/", "Films", "What do the films show?")
        found = re.findall(r'"/films/(\d+)/', text)
        self.think()
        if found:
            self.page(f"/films/{DRAW.choice(found)}/", "Film", "Sign out")

    @task(1)
    def hardware(self) -> None:
        """See whose plate has to be decided about."""
        self.page("/hardware/", "List /hardware/", "Whose hardware needs a decision?")


class Quality(Staff):
    """Prepares the meeting: figures, charts, the cases behind them."""

    role, weight = "quality", 7
    wait_time = between(10, 30)
    figures = {
        "/outcomes/": "Did it hold?",
        "/outcomes/compare/": "Which construct does better?",
        "/harms/": "What went wrong?",
        "/outcomes/following/": "How well do we follow?",
        "/outcomes/function/": "How do they move and feel?",
        "/outcomes/agreement/": "Do the readers agree?",
        "/outcomes/literature/": "What do others report?",
        "/signals/": "Is anything drifting?",
        "/outcomes/enough/": "How much more would we need?",
        "/meetings/": "What did the meeting decide?",
    }

    @task(8)
    def figure(self) -> None:
        """Look at a page of figures."""
        path = DRAW.choice(list(self.figures))
        self.page(path, f"Figures {path}", self.figures[path])

    @task(2)
    def cases(self) -> None:
        """Look at the cases behind a figure."""
        self.page("/outcomes/cases/", "Figures /outcomes/cases/", "Sign out")


@events.init.add_listener
def write_every_minute(environment: Any, **_: Any) -> None:
    """Write down every minute how far it is, so that a run that is cut short has told something."""

    def write() -> None:
        while True:
            gevent.sleep(60)
            write_down(environment)

    gevent.spawn(write)


@events.quitting.add_listener
def write_down(environment: Any, **_: Any) -> None:
    """Write down what was counted, for `busy.py`."""
    stats = environment.stats
    rows = {}
    for entry in (*sorted(stats.entries.values(), key=lambda one: str(one.name)), stats.total):
        shares = {
            f"p{share}": entry.get_response_time_percentile(share / 100) for share in (50, 95, 99)
        }
        rows[str(entry.name)] = {
            "count": entry.num_requests,
            "errors": entry.num_failures,
            **shares,
        }
    errors = [f"{one.name}: {one.error} ({one.occurrences} times)" for one in stats.errors.values()]
    told = {"rows": rows, "errors": errors, "beaten": dict(beaten)}
    Path(GIVEN["told"]).write_text(json.dumps(told))
