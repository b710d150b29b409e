"""One of each thing that an address can name, at two sites that know nothing of each other."""

import hashlib
from datetime import date, time
from io import BytesIO
from typing import Any

import numpy as np
from django.utils.formats import date_format

from analytics.models import LossAlert, LossAlertStep
from analytics.services import definitions, meetings, packs
from followup.exchange import pictures
from followup.exchange.image_examiner import look_into
from followup.models import (
    Clinic,
    ClosedDay,
    Film,
    FilmImage,
    HardwareDecision,
    IncomingImage,
    Message,
    MessageStep,
    Protocol,
    ProtocolVersion,
    QuestionnaireSetup,
    Reply,
    Review,
    UrgentAdvice,
    WantedReading,
)
from followup.rules.image_files import Limits
from followup.selectors import letters as letter_rows
from followup.services import (
    answers,
    completion,
    complications,
    contacts,
    feeds,
    films,
    hardware,
    images,
    invitations,
    letters,
    load,
    motion,
    protocols,
    questionnaires,
    reviews,
    scores,
    tasks,
)
from registry.models import (
    AlternativeContact,
    Identity,
    Patient,
    Person,
    Procedure,
    Site,
)
from registry.services import (
    alternatives,
    enrolment,
    header_identities,
    implants,
    merges,
    patients,
    records,
    safety_notices,
)
from tests import builders, emergency, hospital, moved, ruled
from tests.analytics import monitored
from tests.builders import NOW, TODAY
from tests.followup import sent_files

OPERATED = date(2026, 6, 5)
ALL_ROLES = "coordinator+surgeon+film_reader+quality_lead+administrator"
# A picture of a film in four greys.
GREYS = np.array([[0, 80], [160, 255]], dtype=np.uint8)
# Each site's patients share a name and a birth date that occur nowhere else.
WHO: dict[str, dict[str, Any]] = {
    "north": {
        "family_name": "Quillfeather",
        "given_name": "Brisa",
        "birth_earliest": date(1962, 4, 19),
        "birth_latest": date(1962, 4, 19),
        "phone": "0555 010 4407",
        "email": "quillfeather@mail.invalid",
        "address": "11 Saltgate",
        "other_contact_name": "Imre Quillfeather",
    },
    "south": {
        "family_name": "Zuidervaart",
        "given_name": "Thorkild",
        "birth_earliest": date(1931, 2, 7),
        "birth_latest": date(1931, 2, 7),
        "phone": "0555 010 9813",
        "email": "zuidervaart@mail.invalid",
        "address": "7 Heron Steps",
        "other_contact_name": "Wenche Zuidervaart",
    },
}


def one_of_each(code: str) -> dict[str, Any]:
    """Save one of each thing at a site; return what addresses call them by."""
    site = builders.site(code)
    by = builders.person(f"{code}_everything", **{code: ALL_ROLES})
    definitions.choose_definition(site=site, definition_id="rise-3mm", on=TODAY, by=by)
    whose, twin, third = (builders.patient(site, by, **WHO[code]) for _ in range(3))
    operation = _operated(whose)
    bare = enrolment.record_procedure(
        injury=builders.injury(twin, side="right"),
        values={"kind": "fixation", "performed_on": OPERATED},
        by=by,
        now=NOW,
        today=TODAY,
    )
    merge = merges.merge_patients(
        kept=twin,
        merged=third,
        reason="the same passport",
        kept_version=twin.version,
        merged_version=third.version,
        by=by,
        now=NOW,
    )
    colleague = builders.person(f"{code}_colleague", **{code: "coordinator"})
    return {
        "key": whose.key,
        "other_key": twin.key,
        "identifier_id": whose.identifiers.get().pk,
        "patient_id": whose.pk,
        "injury_id": operation.injury_id,
        "classification_id": operation.injury.classifications.get().pk,
        "procedure_id": operation.pk,
        "bare_procedure_id": bare.pk,
        "construct_id": operation.construct.pk,
        "merge_id": merge.pk,
        "site_id": site.pk,
        "move_id": moved.there_and_back(twin, whose, by),
        "hospital_message_id": hospital.waiting(whose, WHO[code]),
        "person_id": colleague.pk,
        "membership_id": colleague.memberships.get().pk,
        "type_id": operation.construct.construct_type_id,
        **_consent_and_part(whose, operation, by),
        **_followed(operation, by),
        **_written(operation, by),
        **_to_reach(whose, by),
        **_own_protocol(site, by),
        **_calendar(site, by),
        "proposal_id": load.propose(site=site, by=by, now=NOW, today=TODAY).pk,
        "token": sent_files.refused(site, by, WHO[site.code]),
        "batch_id": sent_files.imported(site, by),
        **_met(site, by),
        **ruled.kept(whose, by),
        "project_id": ruled.researched(site, by),
        **_watched(site, by),
        **_noticed(operation, by),
        "emergency_id": emergency.was_opened(whose, colleague).pk,
    }


def _noticed(operation: Procedure, by: Person) -> dict[str, int]:
    """Let a safety notice be about the batch that the site's operation left in place."""
    site = operation.site
    notice = safety_notices.record_notice(
        values={
            "reference": f"FSN-{site.code}",
            "title": "Plates of one batch may break",
            "kind": "recall",
            "advice": "Tell the patient; take a film.",
            "issued_on": TODAY,
            "received_on": TODAY,
            "due_on": TODAY,
            "owner": by,
        },
        lines=[{"batch_first": "B-1"}],
        by=by,
        now=NOW,
    )
    carrier = notice.carriers.get(procedure=operation)
    return {"notice_id": notice.pk, "carrier_id": carrier.pk}


def _met(site: Site, by: Person) -> dict[str, int]:
    """Let a site hold a meeting that decided who does what."""
    meeting = meetings.record_meeting(
        sites=[site], held_on=TODAY, attended=6, notes="", by=by, now=NOW, today=TODAY
    )
    decision = meetings.decide(
        meeting=meeting,
        words="Ask for both shoulders on every film.",
        owner=by,
        due_on=TODAY,
        figure="/outcomes/?horizon=12m",
        by=by,
        today=TODAY,
    )
    pack = packs.ask(sites=[site], address="", for_outside=False, by=by, now=NOW, meeting=meeting)
    packs.make_waiting(now=NOW, today=TODAY)
    return {
        "meeting_id": meeting.pk,
        "meeting_decision_id": decision.pk,
        "pack_id": pack.pk,
    }


def _watched(site: Site, by: Person) -> dict[str, int]:
    """Let a site watch one chart, which has raised a signal."""
    design = monitored.design(site, owner=by)
    signal = monitored.signal(site, design)
    return {"design_id": design.pk, "signal_id": signal.pk}


def _calendar(site: Site, by: Person) -> dict[str, Any]:
    secret = feeds.issue(site=site, clinic=site.clinics.get(), by=by, now=NOW)
    return {"secret": secret, "feed_id": site.calendar_feeds.get().pk}


def _own_protocol(site: Site, by: Person) -> dict[str, int]:
    step = {"code": "6w", "name": "6 weeks", "offset_value": 6, "offset_unit": "weeks"}
    version: ProtocolVersion = protocols.add_protocol(
        protocol=Protocol(name=f"Protocol of {site.code}", purpose="removal", site=site),
        effective_from=TODAY,
        source_note="our policy",
        steps=[{**step, "window_before_days": 7, "window_after_days": 7}],
        by=by,
        now=NOW,
    )
    return {"protocol_id": version.protocol_id, "version_id": version.pk}


def _operated(patient: Patient) -> Procedure:
    return builders.procedure(
        builders.injury(patient), {"construct_type": "HP"}, performed_on=OPERATED
    )


def _consent_and_part(whose: Patient, operation: Procedure, by: Person) -> dict[str, int]:
    consent = patients.add_consent(
        patient=whose,
        site=whose.site,
        given=enrolment.ConsentGiven("registry", "given", TODAY, "asked on the ward"),
        by=by,
        now=NOW,
        today=TODAY,
    )
    part = implants.add_part(
        construct=operation.construct,
        given=implants.PartGiven("plate", "hook plate, six holes", batch="B-1"),
        by=by,
        now=NOW,
    )
    return {
        "consent_id": consent.pk,
        "part_id": part.pk,
        "model_id": part.implant_model_id,
    }


def _followed(operation: Procedure, by: Person) -> dict[str, Any]:
    clinic, review = _booked(operation, by)
    asked = _asked(review, by)
    closed = ClosedDay.objects.create(
        site=operation.site, on=date(2026, 12, 24), reason="moving house"
    )
    contacts.record_attempt(
        review=review, means="phone", outcome="no_answer", note="", by=by, now=NOW
    )
    hardware.raise_planned_removals(by=by, now=NOW, today=TODAY)
    at = {"by": by, "now": NOW, "today": TODAY}
    hurt, day = operation.injury, date(2026, 7, 17)
    film = films.record_film(
        injury=hurt, values={"taken_on": day, "view": "zanca", "calibration": "marker"}, **at
    )
    reading = films.record_reading(film=film, values={"ccd_injured_mm": "9.4"}, reader=by, **at)
    wanted = WantedReading(film=film, site=film.site, turn=2, because="all")
    records.create(wanted, by=by, now=NOW)
    image = kept_image(FilmImage(film=film, site=film.site), GREYS, by)
    header = header_identities.keep(
        site=film.site,
        number=hurt.patient.identifiers.get().value,
        family_name=WHO[film.site.code]["family_name"],
        given_name=WHO[film.site.code]["given_name"],
        birth_date=WHO[film.site.code]["birth_earliest"],
        file_name=f"{WHO[film.site.code]['family_name']}.dcm",
        now=NOW,
    )
    waiting = kept_image(IncomingImage(site=film.site, named_id=header), GREYS.T, by)
    exam = motion.record_motion(
        injury=hurt,
        values={"examined_on": day, "side": "left", "mode": "active", "flexion_deg": 140},
        **at,
    )
    score = scores.record_score(injury=hurt, instrument="pain_nrs", taken_on=day, total=3.0, **at)
    complication = complications.record_complication(
        procedure=operation, values={"kind": "nerve", "detected_on": day, "grade": "I"}, **at
    )
    return {
        "clinic_id": clinic.pk,
        "day_id": closed.pk,
        "review_id": review.pk,
        "message_id": _parked(review),
        "reply_id": _written_back(review),
        "decision_id": HardwareDecision.objects.get(procedure=operation).pk,
        "film_id": film.pk,
        "image_id": image.pk,
        "incoming_id": waiting.pk,
        "number": 1,
        "reading_id": reading.pk,
        "alert_id": _warned(operation, film, by),
        "wanted_id": wanted.pk,
        "exam_id": exam.pk,
        "score_id": score.pk,
        "complication_id": complication.pk,
        **asked,
    }


def _warned(operation: Procedure, film: Film, by: Person) -> int:
    """Let the site's case be one whose reduction may be lost, as its film says."""
    alert = LossAlert.objects.create(
        site=operation.site,
        procedure=operation,
        surgeon=by,
        definition_id="rise-3mm",
        definition_version=1,
        level="lost",
        film=film,
        measure=4.4,
        error=2.0,
        threshold=3.0,
        raised_at=NOW,
    )
    LossAlertStep.objects.create(alert=alert, kind="raised", at=NOW, words="4.4 mm above it")
    return alert.pk


def _written(operation: Procedure, by: Person) -> dict[str, int]:
    """Let an earlier visit have been recorded, and a letter about it be written."""
    review = Review.objects.filter(procedure=operation, due_on__lt=TODAY).latest("due_on")
    came = completion.attend(
        review=review, on=review.due_on, expected_version=review.version, by=by, now=NOW
    )
    letter = letters.write_letter(
        review=came,
        kind="referrer",
        head=letter_rows.head_of(came),
        addressee="Dr Invented\n1 Old Square",
        body="Your patient came.",
        by=by,
        now=NOW,
    )
    return {"seen_review_id": came.pk, "letter_id": letter.pk}


def kept_image(image: Any, greys: Any, by: Person) -> Any:
    """Keep a picture as it comes out of the process that examines what was sent."""
    sent, body = BytesIO(pictures.as_png(greys)), BytesIO()
    arrival = look_into(sent, body, Limits())
    body.seek(0)
    digest = hashlib.sha256(sent.getvalue()).hexdigest()
    return images.keep(image=image, arrival=arrival, body=body, digest=digest, by=by, now=NOW)


def _written_back(review: Review) -> int:
    """Keep an answer to a message of which nobody knows what it means."""
    reply = Reply.objects.create(
        site=review.site,
        key="provider-1",
        means="text",
        sender="0555 010 7007",
        text="Not today",
        received_at=NOW,
        taken_at=NOW,
    )
    reply.patients.add(review.procedure.injury.patient)
    return reply.pk


def _asked(review: Review, by: Person) -> dict[str, Any]:
    """Ask a patient at home in a site's own words; the link is in their hands."""
    site = review.site
    site.telephone = "0555 010 2000"
    site.save(update_fields=["telephone"])
    QuestionnaireSetup.objects.create(site=site, invites=True)
    UrgentAdvice.objects.create(
        site=site, language="en", number=1, text="Ring us at once.", made_at=NOW
    )
    pasted = "1. Invented task\na\nb\nc\nd\ne\n" + "\n".join(f"{n}. Task" for n in range(2, 12))
    wording = questionnaires.add_wording(
        site=site,
        instrument="quickdash",
        language="en",
        edition="invented",
        licence_note="ours",
        pasted=pasted,
        by=by,
        now=NOW,
    )
    invitation, link = invitations.hand_over(review=review, by=by, now=NOW)
    answers.keep(
        invitation=invitation,
        given={"pain": "4", "work": "same"},
        next_page="",
        wordings={},
        now=NOW,
    )
    return {
        "invitation_id": invitation.pk,
        "link": link.rstrip("/").rsplit("/", 1)[1],
        "wording_id": wording.pk,
    }


def _to_reach(whose: Patient, by: Person) -> dict[str, int]:
    at = {"by": by, "now": NOW}
    other = alternatives.save_alternative(
        contact=AlternativeContact(patient=whose),
        values={"name": f"{whose.identity.family_name} junior", "phone": "0555 010 7788"},
        expected_version=1,
        today=TODAY,
        **at,
    )
    task = tasks.open_task(
        site=whose.site,
        patient=whose,
        kind="contact",
        words="Ask the practice for a new number.",
        due_on=TODAY,
        key=f"contact:{whose.pk}",
        **at,
    )
    return {"contact_id": other.pk, "task_id": task.pk}


def _booked(operation: Procedure, by: Person) -> tuple[Clinic, Review]:
    clinic = Clinic.objects.create(
        site=operation.site,
        name=f"Shoulder clinic of {operation.site.code}",
        weekday=TODAY.weekday(),
        starts_at=time(9),
        slots=12,
        surgeon=by,
    )
    review = Review.objects.filter(procedure=operation, due_on__gt=TODAY).earliest("due_on")
    reviews.book(
        review=review,
        clinic=clinic,
        on=TODAY,
        at=time(9, 20),
        expected_version=review.version,
        by=by,
        now=NOW,
        today=TODAY,
    )
    return clinic, review


def _parked(review: Review) -> int:
    """Let the message about a review's slot fail, so that a person has to decide about it."""
    message = Message.objects.get(review=review, purpose="appointment_booked")
    Message.objects.filter(pk=message.pk).update(
        state="failed", means="text", tries=1, stopped_because="the provider answered 422"
    )
    MessageStep.objects.create(message=message, kind="refused", at=NOW, round=1, number=1)
    return message.pk


def marks_of(site: Site) -> set[str]:
    """Return all that says who a site's patients are, written in every way that a page might."""
    found = set()
    for row in Identity.objects.filter(patient__site=site).select_related("patient"):
        day = row.birth_earliest
        found |= {row.family_name, row.given_name, row.phone, row.email, row.address}
        found |= {row.other_contact_name, day.isoformat(), f"{day:%d/%m/%Y}"}
        found |= {date_format(day, name) for name in ("DATE_FORMAT", "SHORT_DATE_FORMAT")}
        found |= {f"{day:%d %b %Y}", f"{day:%d %B %Y}", f"{day.day} {day:%B %Y}"}
        found |= {number.value for number in row.patient.identifiers.all()}
    return found - {""}


def keys_of(site: Site) -> set[str]:
    """Return the keys by which a site's patients are known to whoever sees no names."""
    return set(Patient.everything.filter(site=site).values_list("key", flat=True))
