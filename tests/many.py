"""Many rows, quickly: copies of the one of each thing that a site has, written in bulk."""

from collections.abc import Callable, Sequence
from datetime import date, time, timedelta
from typing import Any, TypeVar
from uuid import uuid4

from django.db import connection
from django.db.models import Model

from analytics.models import (
    ChartCase,
    DecisionStep,
    LossAlert,
    Meeting,
    MeetingDecision,
    MeetingSite,
    Pack,
    PackSite,
    ResearchExtract,
    ResearchProject,
    ResearchSite,
    Signal,
)
from followup.models import (
    Answer,
    CalendarFeed,
    Clinic,
    ClosedDay,
    Complication,
    ContactAttempt,
    Film,
    FilmImage,
    HardwareDecision,
    ImportDraft,
    ImportPair,
    IncomingImage,
    Invitation,
    InvitationLink,
    LoadLine,
    Message,
    MessageStep,
    MotionExam,
    Protocol,
    ProtocolVersion,
    Questionnaire,
    Reading,
    Reply,
    Review,
    Score,
    Task,
    UrgentAdvice,
    WantedReading,
    Wording,
)
from registry.models import (
    Classification,
    Consent,
    Construct,
    ConstructDeparture,
    ConstructType,
    Destruction,
    EmergencyAccess,
    HospitalMessage,
    Identifier,
    ImplantModel,
    Injury,
    Membership,
    NoticeCarrier,
    Part,
    Patient,
    PatientMerge,
    PatientSite,
    Person,
    Procedure,
    RecordMove,
    RetentionHold,
    SafetyNotice,
    Site,
)
from registry.models.imports import ImportBatch, ImportRow
from registry.models.patients import new_key
from tests.analytics import monitored
from tests.builders import NOW, TODAY

AnyModel = TypeVar("AnyModel", bound=Model)
FIRST_DAY = date(1940, 1, 1)


def copies(template: AnyModel, number: int, /, **changes: Any) -> list[AnyModel]:
    """Write so many copies of a row; a change that is a function gets the copy's number."""
    fields = [field for field in template._meta.concrete_fields if not field.primary_key]
    values = {field.name: getattr(template, field.attname) for field in fields}
    attribute = {field.name: field.attname for field in fields}
    rows = []
    for n in range(number):
        row = values | {name: _value(change, n) for name, change in changes.items()}
        rows.append(type(template)(**{attribute[name]: value for name, value in row.items()}))
    return type(template)._base_manager.bulk_create(rows, batch_size=500)


def _value(change: Any, number: int) -> Any:
    value = change(number) if callable(change) else change
    return value.pk if isinstance(value, Model) else value


def _each(parents: Sequence[Any]) -> Callable[[int], Any]:
    return lambda number: parents[number]


def grow(things: dict[str, Any], have: int, number: int) -> None:
    """Bring everything that a page might list at a site from so many rows to so many.

    `have` is 1 for a site with one of each thing. Besides patients with an operation each there are
    as many whose enrolment stopped halfway.
    """
    _patients(things, have, number - have)
    _course(Procedure.objects.get(pk=things["procedure_id"]), things, have, number - have)
    _setup(things, have, number - have)
    _meetings(things, number - have)
    _watched(things, have, number - have)
    # The planner does not know of rows that were just written, and would walk them one by one.
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _patients(things: dict[str, Any], have: int, more: int) -> None:
    """Write patients with an operation each, and such whose enrolment stopped halfway."""
    patient = Patient.objects.get(pk=things["patient_id"])
    injury = Injury.objects.get(pk=things["injury_id"])
    whole = _people(patient, things, have, more)
    hurt = copies(injury, more, patient=_each(whole))
    copies(Classification.objects.get(pk=things["classification_id"]), more, injury=_each(hurt))
    _operations(things, have, hurt)
    halfway = _people(patient, things, have + 100_000, more)
    half, quarter = more // 2, more // 4
    unfinished = copies(injury, half, patient=_each(halfway))
    copies(Procedure.objects.get(pk=things["procedure_id"]), quarter, injury=_each(unfinished))
    merge = PatientMerge.objects.get(pk=things["merge_id"])
    undone = {"undone_at": NOW, "undone_by": merge.merged_by_id}
    copies(merge, more, merged=_each(halfway), **undone)


def _people(patient: Patient, things: dict[str, Any], have: int, more: int) -> list[Patient]:
    """Write patients with their names, every two of them alike."""
    people = copies(patient, more, key=lambda _: new_key())
    whose = _each(people)

    def born(n: int) -> date:
        return FIRST_DAY + timedelta(days=(have + n) // 2)

    copies(
        patient.identity,
        more,
        patient=whose,
        family_name=lambda n: f"Alike{(have + n) // 2}",
        sort_name=lambda n: f"alike{(have + n) // 2} brisa",
        birth_earliest=born,
        birth_latest=born,
        phone="",
    )
    copies(PatientSite.objects.get(patient=patient), more, patient=whose)
    number = Identifier.objects.get(pk=things["identifier_id"])
    copies(number, more, patient=whose, value=lambda n: f"copy-{have + n:06d}")
    return people


def _minute(number: int) -> time:
    """Return a time of day of its own for each number; nobody else's slot has these seconds."""
    return time(number // 60 % 24, number % 60, 30 + number // 1440)


def _operations(things: dict[str, Any], have: int, hurt: list[Injury]) -> None:
    more, injury = len(hurt), _each(hurt)
    operation = Procedure.objects.get(pk=things["procedure_id"])
    done = _each(copies(operation, more, injury=injury))
    built = _each(copies(Construct.objects.get(pk=things["construct_id"]), more, procedure=done))
    copies(Part.objects.get(pk=things["part_id"]), more, construct=built)
    article = ImplantModel.objects.get(pk=things["model_id"])
    copies(
        article, more, description=lambda n: f"{article.description} {have + n} of {things['key']}"
    )
    copies(departure_of(operation), more, construct=built)
    review = Review.objects.get(pk=things["review_id"])
    open_reviews = _each(copies(review, more, procedure=done))
    slot = review.appointments.get(state="booked")
    copies(slot, more, review=open_reviews, at=lambda n: _minute(have + n))
    _waiting(things, review, done, more)
    message = Message.objects.get(pk=things["message_id"])
    copies(
        message,
        more,
        review=open_reviews,
        patient=lambda n: hurt[n].patient_id,
        key=lambda n: f"copy-{have + n}",
        uuid=lambda _: uuid4(),
    )
    copies(MessageStep.objects.filter(message=message).earliest("id"), more)
    copies(RecordMove.objects.get(pk=things["move_id"]), more)
    copies(EmergencyAccess.objects.get(pk=things["emergency_id"]), more)
    held = RetentionHold.objects.get(pk=things["hold_id"])
    copies(held, more, patient=lambda n: hurt[n].patient_id)
    copies(Destruction.objects.filter(site=held.site).earliest("id"), more)
    copies(
        HospitalMessage.objects.get(pk=things["hospital_message_id"]),
        more,
        digest=lambda n: f"{have + n:064d}",
        patient=lambda n: hurt[n].patient_id,
    )
    replies = copies(
        Reply.objects.get(pk=things["reply_id"]), more, key=lambda n: f"copy-{have + n}"
    )
    through = Reply.patients.through
    through.objects.bulk_create(
        through(reply_id=reply.pk, patient_id=hurt[n].patient_id) for n, reply in enumerate(replies)
    )
    _asked(things, more, open_reviews)
    attempt = ContactAttempt.objects.filter(review=review).earliest("id")
    copies(attempt, more, review=open_reviews, patient=lambda n: hurt[n].patient_id)
    film = Film.objects.get(pk=things["film_id"])
    films = _each(copies(film, more, injury=injury))
    unread = copies(Film.objects.get(pk=things["film_id"]), more, injury=injury, view="ap")
    copies(WantedReading.objects.get(pk=things["wanted_id"]), more, film=_each(unread))
    arrived = {
        "stored_name": lambda _: uuid4().hex,
        "content_hash": lambda _: uuid4().hex,
    }
    copies(FilmImage.objects.get(pk=things["image_id"]), more, film=films, **arrived)
    copies(IncomingImage.objects.get(pk=things["incoming_id"]), more, **arrived)
    reading = Reading.objects.get(pk=things["reading_id"])
    copies(reading, more, film=films, reader=things["person_id"])
    alert = LossAlert.objects.get(pk=things["alert_id"])
    copies(alert, more, procedure=done, film=films)
    copies(alert.steps.earliest("id"), more)
    copies(MotionExam.objects.get(pk=things["exam_id"]), more, injury=injury)
    copies(Score.objects.get(pk=things["score_id"]), more, injury=injury)
    copies(Complication.objects.get(pk=things["complication_id"]), more, procedure=done)
    copies(HardwareDecision.objects.get(pk=things["decision_id"]), more, procedure=done)
    task = Task.objects.get(pk=things["task_id"])
    copies(task, more, patient=lambda n: hurt[n].patient_id, key=lambda n: f"copy:{have + n}")
    notice = SafetyNotice.objects.get(pk=things["notice_id"])
    copies(notice, more, reference=lambda n: f"copy-{have + n}")
    carrier = NoticeCarrier.objects.get(pk=things["carrier_id"])
    carriers = _each(copies(carrier, more, procedure=done))
    copies(carrier.steps.earliest("id"), more, carrier=carriers)


def _waiting(
    things: dict[str, Any], review: Review, operation: Callable[[int], Any], more: int
) -> None:
    """Write reviews that wait for a slot on one day, and stand in a proposal to move to another."""
    step = review.step.version.steps.exclude(pk=review.step_id).earliest("id")
    # Too far ahead to be seen under Due.
    day, opens = TODAY + timedelta(weeks=5), TODAY + timedelta(weeks=3)
    dates = {"opens_on": opens, "due_on": day, "closes_on": day, "proposed_on": day}
    waiting = copies(review, more, procedure=operation, step=step, state="planned", **dates)
    lines = [
        LoadLine(
            proposal_id=things["proposal_id"],
            review=one,
            review_version=one.version,
            from_on=day,
            to_on=opens,
        )
        for one in waiting
    ]
    LoadLine.objects.bulk_create(lines, batch_size=500)


def _asked(things: dict[str, Any], more: int, reviews: Callable[[int], Any]) -> None:
    """Write as many invitations, each answered; every second one is over."""
    invitation = Invitation.objects.get(pk=things["invitation_id"])
    over = {"made_at": NOW - timedelta(days=60), "completed_at": NOW}
    over["expires_at"] = lambda n: NOW + timedelta(days=1 if n % 2 else -1)
    asked = _each(copies(invitation, more, review=reviews, **over))
    for answer in Answer.objects.filter(invitation=invitation):
        copies(answer, more, invitation=asked)
    link = InvitationLink.objects.filter(invitation=invitation).earliest("id")
    copies(link, more, invitation=asked, token_hash=lambda _: new_key() * 8)


def departure_of(operation: Procedure) -> ConstructDeparture:
    """Return the operation's departure from a construct check, made when there is none."""
    by = {"recorded_by": operation.recorded_by, "changed_by": operation.recorded_by}
    at = {"recorded_at": NOW, "changed_at": NOW, "site": operation.site}
    return ConstructDeparture.objects.get_or_create(
        construct=operation.construct,
        check_id="shaft-drill",
        check_version=1,
        defaults={"found": "another drill", "reason": "none other was there", **by, **at},
    )[0]


def _course(operation: Procedure, things: dict[str, Any], have: int, more: int) -> None:
    """Write as many more rows of each kind about one patient."""

    def on(n: int) -> date:
        return operation.performed_on + timedelta(days=50 + have + n)

    films = copies(Film.objects.get(pk=things["film_id"]), more, taken_on=on)
    copies(Reading.objects.get(pk=things["reading_id"]), more, film=_each(films))
    copies(MotionExam.objects.get(pk=things["exam_id"]), more, examined_on=on)
    copies(Score.objects.get(pk=things["score_id"]), more, taken_on=on)
    copies(Complication.objects.get(pk=things["complication_id"]), more, detected_on=on)
    decision = HardwareDecision.objects.get(pk=things["decision_id"])
    declined = {"state": "declined", "reason": "it does not bother"}
    copies(decision, more, raised_on=on, first_decided_on=on, decided_on=on, **declined)
    washouts = copies(operation, more, kind="washout", performed_on=on)
    review = Review.objects.get(pk=things["review_id"])
    _asked(things, more, _each(copies(review, more, procedure=_each(washouts))))
    copies(review.appointments.get(state="booked"), more, state="cancelled")
    copies(ContactAttempt.objects.filter(review=review).earliest("id"), more)
    copies(Part.objects.get(pk=things["part_id"]), more)
    copies(departure_of(operation), more, check_version=lambda n: 1 + have + n)
    copies(Classification.objects.get(pk=things["classification_id"]), more, superseded=True)
    copies(Consent.objects.get(pk=things["consent_id"]), more)
    number = Identifier.objects.get(pk=things["identifier_id"])
    copies(number, more, value=lambda n: f"course-{have + n:06d}")


def _watched(things: dict[str, Any], have: int, more: int) -> None:
    """Write as many more cases of a chart, signals of it, and steps and checks of one signal."""

    def later(n: int) -> int:
        return 100 + have + n

    signal = Signal.objects.get(pk=things["signal_id"])
    case = ChartCase.objects.filter(design=signal.design).earliest("position")
    # Held ones, so that the chart reaches its limit no more often.
    copies(case, more, position=later, case_id=later, outcome=False)
    copies(signal, more, position=later)
    copies(signal.steps.earliest("id"), more)
    copies(monitored.checked(signal).checks.earliest("id"), more)


def _setup(things: dict[str, Any], have: int, more: int) -> None:
    """Write as many more rows of each kind that an administrator lists."""

    def named(word: str) -> Callable[[int], str]:
        return lambda n: f"{word} {have + n}"

    works = Membership.objects.get(pk=things["membership_id"])
    staff = copies(works.person, more, username=named("staff"), shown_name=named("Staff"))
    copies(works, more, person=_each(staff), role="surgeon")
    kind = ConstructType.objects.get(pk=things["type_id"])
    kinds = copies(kind, more, code=named("C"), name=named("Kind"), planned_removal=False)
    protocol = Protocol.objects.get(pk=things["protocol_id"])
    protocols = copies(protocol, more, name=named("Protocol"), construct_type=_each(kinds))
    version = ProtocolVersion.objects.get(pk=things["version_id"])
    versions = copies(version, more, protocol=_each(protocols))
    copies(version.steps.get(), more, version=_each(versions))
    copies(version, more, number=lambda n: 1 + have + n)
    copies(Clinic.objects.get(pk=things["clinic_id"]), more, name=named("Clinic"))
    feed = CalendarFeed.objects.get(pk=things["feed_id"])
    copies(feed, more, owner=_each(staff), token_hash=named("hash"))
    _questionnaires(things, have, more)
    closed = ClosedDay.objects.get(pk=things["day_id"])
    copies(closed, more, on=lambda n: TODAY + timedelta(days=400 + have + n))
    _sites(works, named, more)


def _questionnaires(things: dict[str, Any], have: int, more: int) -> None:
    """Write as many versions of what a site asks, advises and has pasted."""

    def later(n: int) -> int:
        return 1 + have + n

    wording = Wording.objects.get(pk=things["wording_id"])
    copies(wording, more, number=later, in_use=False)
    advice = UrgentAdvice.objects.filter(site=wording.site).earliest("number")
    copies(advice, more, number=later)
    chosen = {"site": wording.site, "step_code": "6m", "contents": ["pain"], "made_at": NOW}
    Questionnaire.objects.bulk_create(
        [Questionnaire(number=later(n), **chosen) for n in range(more)]
    )


def _meetings(things: dict[str, Any], more: int) -> None:
    """Write as many meetings with an action each, and as many of the site's own; packs; projects."""
    decision = MeetingDecision.objects.get(pk=things["meeting_decision_id"])
    step = DecisionStep.objects.get(decision=decision)
    earlier = copies(decision.meeting, more, held_on=lambda n: TODAY - timedelta(days=1 + n % 900))
    copies(MeetingSite.objects.get(meeting=decision.meeting), more, meeting=_each(earlier))
    for meetings in (earlier, [Meeting.objects.get(pk=decision.meeting_id)] * more):
        made = copies(decision, more, meeting=_each(meetings))
        copies(step, more, decision=_each(made))
    pack = Pack.objects.get(pk=things["pack_id"])
    packs = copies(pack, more)
    copies(PackSite.objects.get(pack=pack), more, pack=_each(packs))
    project = ResearchProject.objects.get(pk=things["project_id"])
    projects = copies(project, more)
    copies(ResearchSite.objects.get(project=project), more, project=_each(projects))
    taken = ResearchExtract(
        project=project,
        at=NOW,
        by=project.made_by,
        snapshot_hash="0" * 64,
        content_hash="0" * 64,
        patients=8,
        left_out="none",
    )
    copies(taken, more)


def _sites(works: Membership, named: Callable[[str], Callable[[int], str]], more: int) -> None:
    """Write sites that the person with every role administers, and files that were imported."""
    site = works.site
    everything = Person.objects.get(username=f"{site.code}_everything")
    sites = copies(site, more, code=lambda n: named("s")(n).replace(" ", "-"), name=named("Site"))
    copies(works, more, person=everything, site=_each(sites), role="administrator")
    batch = ImportBatch(
        site=site,
        file_name="cases.csv",
        content_hash="0" * 64,
        started_at=NOW,
        started_by=everything,
        state="done",
        rows_read=1,
        rows_landed=1,
        rows_known=0,
        rows_refused=0,
    )
    copies(batch, more)
    _given_files(site, ImportBatch.objects.filter(site=site).order_by("id")[0], more)


def _given_files(site: Site, batch: ImportBatch, more: int) -> None:
    """Write files that were sent, with what was found in them, and lines of one that was imported."""
    draft = ImportDraft.objects.filter(site=site).order_by("id")[0]
    copies(draft, more, token=lambda n: f"token{uuid4().hex}")
    finding = draft.findings.all()[0]
    copies(finding, more, line=lambda n: n + 10)
    copies(finding, more, line=lambda n: n + 10, kind="known")
    person = {"family_name": "Berg", "given_name": "Ida", "birth": "1980", "sex": "", "phone": ""}
    pair = ImportPair(
        draft=draft,
        line=2,
        number="1",
        person=person,
        other_patient=Patient.objects.filter(at_sites__site=site)[0],
        other_key="patient 1",
        weight=20,
        likely=False,
        because="the same given name",
    )
    copies(pair, more, number=lambda n: uuid4().hex, other_patient=_each(_whom(site, more)))
    before = ImportRow.objects.count()
    line = ImportRow(batch=batch, line=1, fingerprint="0" * 64, fate="refused", reason="x")
    copies(line, more, line=lambda n: n + before + 2)


def _whom(site: Site, number: int) -> list[Patient]:
    some = list(Patient.objects.filter(at_sites__site=site).order_by("id")[:number])
    return [some[place % len(some)] for place in range(number)]
