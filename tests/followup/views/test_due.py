"""Who is due: the list, and the acts at each row."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Appointment, Clinic, ContactAttempt, Review
from followup.services import reviews
from registry.models import AuditEntry, Person, Procedure
from registry.services import erasure, patients
from registry.services.enrolment import ConsentGiven
from tests import builders
from tests.builders import NOW, TODAY, booked
from tests.looked import named_on

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]

# After 5 June 2026 the 6-month window goes from 5 November to 3 February; it is due on 5 December.
HTMX = {"HX-Request": "true"}
ACTS = ("review-book", "review-attempt", "review-not-needed", "review-missed")


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def here(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


def due(name: str = "Quill", site: str = "north", **values: Any) -> Review:
    """Return the one review of a new patient that is due, the 6-month one."""
    whose = builders.patient(builders.site(site), family_name=name)
    operation: Procedure = builders.procedure(of=builders.injury(of=whose), **values)
    reviews.lapse_closed(by=operation.recorded_by, now=NOW, today=TODAY)
    found: Review = operation.reviews.get(step__code="6m")
    return found


def page(client: Client, **query: str) -> str:
    return str(client.get(reverse("due"), query).content.decode())


def act(client: Client, name: str, review: Review, htmx: bool = False, **sent: Any) -> Any:
    review.refresh_from_db()
    headers = HTMX if htmx else {}
    where = reverse(name, args=[review.pk])
    return client.post(where, {"version": review.version, **sent}, headers=headers)


def on_the_day(client: Client, who: Person, time_machine: Any) -> None:
    """Let the day of the slot come, on which everybody signs in anew."""
    time_machine.move_to(datetime(2026, 12, 1, 10, 0, tzinfo=UTC), tick=False)
    client.force_login(who)


def slot(where: Clinic, on: date = date(2026, 12, 1), at: time = time(9)) -> str:
    return f"{where.pk}|{on}|{at:%H:%M}"


def offered(client: Client, review: Review) -> set[str]:
    shown = page(client)
    return {name for name in ACTS if reverse(name, args=[review.pk]) in shown}


def test_a_row_says_who_why_and_until_when(here: Client) -> None:
    review = due()
    shown = page(here)
    assert reverse("patient", args=[review.procedure.injury.patient.key]) in shown
    for words in ("Quill, Ada", "6 months, left", "In window, due in 10 days, not booked yet"):
        assert words in shown
    assert "1 review, most urgent first" in shown


def test_the_most_urgent_comes_first_whoever_was_enrolled_first(here: Client) -> None:
    due("Calm")
    long_ago = builders.injury(
        of=builders.patient(family_name="Urgent"),
        injured_earliest=date(2026, 2, 1),
        injured_latest=date(2026, 2, 1),
    )
    operation = builders.procedure(
        long_ago, construct={"construct_type": "HP"}, performed_on=date(2026, 2, 2)
    )
    reviews.lapse_closed(by=operation.recorded_by, now=NOW, today=TODAY)
    shown = page(here)
    assert shown.index("Urgent, Ada") < shown.index("Calm, Ada")
    assert "Hardware that is meant to come out is" in shown


def test_nobody_due_teaches_what_will_stand_here(here: Client) -> None:
    shown = page(here)
    assert "Nobody is due here" in shown
    assert reverse("enrol") in shown


def test_the_list_is_cut_to_a_week(here: Client) -> None:
    due()
    assert "Quill, Ada" in page(here, week="2026-11-23")
    assert "Quill, Ada" not in page(here, week="2027-02-08")


def test_the_list_is_cut_to_a_clinic(here: Client) -> None:
    review, where = due(), builders.clinic()
    booked(review, where=where)
    due("Other")
    shown = page(here, clinic=str(where.pk))
    assert "Quill, Ada" in shown
    assert "Other, Ada" not in shown


def test_the_list_is_cut_to_a_surgeon_who_is_offered_without_any_clinic(
    here: Client, surgeon: Person
) -> None:
    due("Hers", surgeon=surgeon)
    due("Another")
    shown = page(here, surgeon=str(surgeon.pk))
    assert f'<option value="{surgeon.pk}" selected>Selma</option>' in shown
    assert "Hers, Ada" in shown
    assert "Another, Ada" not in shown


def test_the_list_is_cut_to_what_was_missed(here: Client) -> None:
    review = due()
    due("Other")
    Review.objects.filter(pk=review.pk).update(state="missed")
    shown = page(here, show="missed")
    assert "Quill, Ada" in shown
    assert "Other, Ada" not in shown


@pytest.mark.parametrize(
    "query",
    [
        {"week": "soon"},
        {"week": "9999-12-31"},
        {"clinic": "\N{SUPERSCRIPT TWO}"},
        {"surgeon": "9" * 40},
        {"show": "everything else"},
        {"page": "nowhere"},
    ],
    ids=str,
)
def test_an_address_that_means_nothing_shows_the_whole_list(
    here: Client, query: dict[str, str]
) -> None:
    due()
    assert "Quill, Ada" in page(here, **query)


def test_pages_of_fifty_keep_the_choice(here: Client) -> None:
    for _ in range(51):
        due()
    first, second = page(here, show="in_window"), page(here, show="in_window", page="2")
    assert first.count("Quill, Ada</a>") == 50
    assert second.count("Quill, Ada</a>") == 1
    assert "show=in_window&amp;page=2" in first
    assert "show=in_window&amp;page=1" in second


def test_the_queries_do_not_grow_with_the_list(here: Client, counted: Callable[[], Any]) -> None:
    numbers = []
    for more in (2, 10):
        for _ in range(more):
            due()
        with counted() as queries:
            page(here)
        numbers.append(len(queries))
    assert numbers[0] == numbers[1]


def test_details_are_fetched_for_the_page_alone(here: Client, counted: Callable[[], Any]) -> None:
    for _ in range(51):
        due()
    with counted() as queries:
        page(here)
    pages = [one["sql"] for one in queries if "LIMIT 50" in one["sql"]]
    assert pages
    assert not [one for one in pages if "registry_identity" in one]


def test_a_coordinator_is_offered_every_act_and_a_miss_only_once_the_slot_has_come(
    here: Client, coordinator: Person, time_machine: Any
) -> None:
    review = due()
    assert offered(here, review) == set(ACTS) - {"review-missed"}
    booked(review)
    assert offered(here, review) == set(ACTS) - {"review-missed"}
    on_the_day(here, coordinator, time_machine)
    assert offered(here, review) == set(ACTS)


def test_a_surgeon_is_not_offered_the_booking(client: Client, surgeon: Person) -> None:
    review = due()
    client.force_login(surgeon)
    assert offered(client, review) == {"review-attempt", "review-not-needed"}
    assert act(client, "review-book", review, slot="1|2026-12-01|09:00").status_code == 403


def test_who_books_at_one_site_is_not_offered_it_at_the_other(client: Client) -> None:
    client.force_login(builders.person("beth", north="coordinator", south="surgeon"))
    assert "review-book" in offered(client, due(site="north"))
    assert "review-book" not in offered(client, due(site="south"))


def test_another_sites_review_is_not_there(client: Client, outsider: Person) -> None:
    review = due()
    client.force_login(outsider)
    assert "Quill" not in page(client)
    for name in ACTS:
        assert act(client, name, review).status_code == 404


def test_who_has_no_part_in_it_may_not_see_the_list(client: Client, quality_lead: Person) -> None:
    client.force_login(quality_lead)
    assert client.get(reverse("due")).status_code == 403


def test_a_slot_is_booked_and_the_list_says_so(here: Client) -> None:
    review, where = due(), builders.clinic(name="Shoulder")
    shown = here.get(reverse("review-book", args=[review.pk])).content.decode()
    assert "Tue 01 Dec 2026 09:00, Shoulder (6 free)" in shown
    answer = act(here, "review-book", review, slot=slot(where))
    assert answer.url == reverse("due")
    assert Appointment.objects.get().on == date(2026, 12, 1)
    shown = page(here)
    assert "Booked: Quill, Ada, 01 Dec 2026 09:00." in shown
    assert "Tue 01 Dec 09:00, Shoulder" in shown


def test_an_act_is_a_part_to_htmx_and_a_page_to_everybody_else(here: Client) -> None:
    review = due()
    for name in ACTS:
        where = reverse(name, args=[review.pk])
        whole = here.get(where).content.decode()
        part = here.get(where, headers=HTMX).content.decode()
        assert "<html" in whole
        assert "<html" not in part
        for shown in (whole, part):
            assert f'action="{where}"' in shown
            assert f'name="version" value="{review.version}"' in shown


def test_htmx_loads_the_list_afresh_when_the_act_is_done(here: Client) -> None:
    review, where = due(), builders.clinic()
    answer = act(here, "review-book", review, htmx=True, slot=slot(where))
    assert (answer.status_code, answer.headers["HX-Refresh"]) == (204, "true")
    assert Review.objects.get(pk=review.pk).state == "booked"


@pytest.mark.parametrize("htmx", [False, True])
def test_a_slot_that_was_taken_meanwhile_is_refused_by_its_field_and_another_can_be_booked(
    here: Client, *, htmx: bool
) -> None:
    review, where = due(), builders.clinic()
    booked(due("Quicker"), where=where)
    refused = act(here, "review-book", review, htmx=htmx, slot=slot(where)).content.decode()
    assert 'id="id_slot_error">That slot was taken meanwhile' in refused
    assert Review.objects.get(pk=review.pk).state == "planned"
    again = act(here, "review-book", review, slot=slot(where, at=time(9, 10)))
    assert again.status_code == 302


def test_booking_without_a_choice_is_refused_by_its_field(here: Client) -> None:
    review = due()
    builders.clinic()
    assert "Choose a slot." in act(here, "review-book", review).content.decode()


def test_a_site_without_a_clinic_says_where_clinics_come_from(here: Client) -> None:
    shown = here.get(reverse("review-book", args=[due().pk])).content.decode()
    assert "No clinic of this site has a free slot" in shown


def test_a_try_is_noted_and_counted_at_the_row(here: Client) -> None:
    review = due()
    answer = act(
        here, "review-attempt", review, means="phone", outcome="no_answer", note="rang twice"
    )
    assert answer.url == reverse("due")
    kept = ContactAttempt.objects.get()
    assert (kept.means, kept.outcome, kept.note) == ("phone", "no_answer", "rang twice")
    assert "1 try to reach" in page(here)


def test_what_came_of_a_try_is_chosen_and_never_presumed(here: Client) -> None:
    review = due()
    shown = here.get(reverse("review-attempt", args=[review.pk])).content.decode()
    outcome = shown.split('name="outcome"')[1].split("</select>")[0]
    assert '<option value="" selected>choose</option>' in outcome


def test_a_try_that_is_refused_keeps_what_was_typed(here: Client) -> None:
    refused = act(
        here, "review-attempt", due(), means="phone", outcome="", note="rang twice"
    ).content.decode()
    assert 'id="id_outcome_error"' in refused
    assert 'value="rang twice"' in refused
    assert '<option value="phone" selected>' in refused
    assert not ContactAttempt.objects.exists()


def test_a_review_is_marked_as_not_needed_and_leaves_the_list(here: Client) -> None:
    review = due()
    act(here, "review-not-needed", review, reason="followed up at home")
    review.refresh_from_db()
    assert (review.state, review.ended_reason) == ("not_needed", "followed up at home")
    assert "Quill, Ada" not in page(here)


@pytest.mark.parametrize("reason", ["", "   "])
def test_without_a_reason_nothing_is_ended_and_the_field_says_so(here: Client, reason: str) -> None:
    review = due()
    refused = act(here, "review-not-needed", review, reason=reason).content.decode()
    assert 'id="id_reason_error"' in refused
    assert Review.objects.get(pk=review.pk).state == "planned"


def test_a_miss_is_noted_and_the_review_stays_due(
    here: Client, coordinator: Person, time_machine: Any
) -> None:
    review = due()
    booked(review)
    on_the_day(here, coordinator, time_machine)
    assert act(here, "review-missed", review).url == reverse("due")
    shown = page(here)
    assert '<span class="state act">missed</span>' in shown
    assert "Quill, Ada did not come." in shown


def test_a_slot_to_come_cannot_be_missed(here: Client) -> None:
    review = due()
    booked(review)
    refused = act(here, "review-missed", review).content.decode()
    assert "nobody can have missed it yet" in refused
    assert Review.objects.get(pk=review.pk).state == "booked"


def test_what_somebody_else_changed_meanwhile_is_said_and_what_was_typed_is_kept(
    here: Client,
) -> None:
    review = due()
    where = reverse("review-not-needed", args=[review.pk])
    booked(Review.objects.get(pk=review.pk))
    stale = {"version": review.version, "reason": "followed up at home"}
    refused = here.post(where, stale).content.decode()
    assert "was changed by somebody else" in refused
    assert "It is now booked." in refused
    assert 'value="followed up at home"' in refused
    assert 'name="version" value="2"' in refused
    assert Review.objects.get(pk=review.pk).state == "booked"


@pytest.mark.parametrize("version", ["", "x", "9" * 40])
def test_a_version_that_means_nothing_is_not_the_present_one(here: Client, version: str) -> None:
    review = due()
    where = reverse("review-not-needed", args=[review.pk])
    refused = here.post(where, {"version": version, "reason": "followed up at home"})
    assert "was changed by somebody else" in refused.content.decode()
    assert Review.objects.get(pk=review.pk).state == "planned"


def test_what_has_ended_says_so_when_it_is_acted_on(here: Client) -> None:
    lapsed = due().procedure.reviews.get(step__code="6w")
    refused = act(here, "review-not-needed", lapsed, reason="too late").content.decode()
    assert "is &#x27;lapsed&#x27; and cannot become &#x27;not needed&#x27;" in refused


def test_an_erased_patient_whose_facts_stay_is_neither_listed_nor_acted_for(here: Client) -> None:
    review = due()
    given = {"by": review.recorded_by, "now": NOW, "today": TODAY}
    patient = review.procedure.injury.patient
    consent = ConsentGiven("registry", "given", TODAY - timedelta(days=1), "asked on the ward")
    patients.add_consent(patient=patient, site=patient.site, given=consent, **given)
    erasure.erase_patient(patient=patient, reason="asked by letter", **given)
    assert "Nobody is due here" in page(here)
    assert act(here, "review-attempt", review, means="phone", outcome="reached").status_code == 404


def test_an_act_takes_no_other_method(here: Client) -> None:
    review = due()
    for name in ACTS:
        assert here.put(reverse(name, args=[review.pk])).status_code == 405
    assert here.post(reverse("due")).status_code == 405


def test_whom_the_list_and_an_act_named_is_written_down(here: Client) -> None:
    both = [due(), due("Other")]
    page(here)
    assert named_on("due") == [sorted(one.procedure.injury.patient.key for one in both)]
    for name in ACTS:
        here.get(reverse(name, args=[both[0].pk]))
    read = AuditEntry.objects.filter(row_id=str(both[0].procedure.injury.patient_id), action="read")
    assert sorted(read.values_list("reason", flat=True)) == sorted(ACTS)
