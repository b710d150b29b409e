"""What the follow-up of a simulated case found, as rows; and who was booked, missed and called."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from analytics.simulation.records import SimCase, SimFilm, SimVisit
from config.demo import findings
from config.demo.batch import Batch
from config.demo.bulk import new
from config.demo.decisions import decision_rows
from config.demo.enrolled import Enrolled, decimal
from config.demo.schedule import Happened, Protocols, review_rows
from config.demo.staff import Staff
from followup.models import (
    Appointment,
    Clinic,
    Complication,
    ContactAttempt,
    Film,
    MotionExam,
    Reading,
    Review,
    Score,
)
from followup.models.reviews import OPEN_STATES, AppointmentState, ReviewState
from followup.rules.planner import Calendar, Ending
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.services.planning import BECAUSE
from registry.models.patients import PatientStatus

TRIED_AT = time(10, 20)
# The films of the last days wait for their reader.
UNREAD_DAYS = 14
# Older visits keep no slot: what share of slots is missed is asked of the last year.
SLOTS_KEPT_DAYS = 400


@dataclass
class Diary:
    """Slots given so far, so that none is given twice."""

    clinics: Mapping[tuple[int, int], tuple[Clinic, ...]]
    given: Counter[tuple[int, date]] = field(default_factory=Counter)

    def slot(self, site: int, surgeon_id: int, on: date) -> tuple[Clinic, time] | None:
        """Return the next free slot of a day, in the surgeon's own clinic where one is held."""
        held = self.clinics.get((site, on.weekday()), ())
        for clinic in sorted(held, key=lambda one: one.surgeon_id != surgeon_id):
            number = self.given[(clinic.pk, on)]
            if number < clinic.slots:
                self.given[(clinic.pk, on)] += 1
                start = datetime.combine(on, clinic.starts_at)
                return clinic, (start + timedelta(minutes=number * clinic.slot_minutes)).time()
        return None


@dataclass(frozen=True)
class FollowUp:
    """What every case's follow-up is written with."""

    staff: Staff
    diary: Diary
    protocols: Protocols
    calendars: tuple[Calendar, ...]
    today: date

    def write(self, batch: Batch, case: SimCase, of: Enrolled) -> None:
        """Add everything that followed a case's operation to a batch."""
        every = [*case.visits, *(visit for one, _ in of.later for visit in one.visits)]
        self._visits(batch, of, every)
        for event in case.complications:
            row = new(Complication, procedure=of.index, **event)
            batch.fact(row, site=of.site, by=of.surgeon, on=row.detected_on)
        reviews = self._reviews(batch, case, of, every)
        self._appointments(batch, case, of, reviews)
        self._attempts(batch, case, of, reviews)
        if case.decision is not None:
            decision_rows(batch, case.decision, of)

    def _reviews(
        self, batch: Batch, case: SimCase, of: Enrolled, every: list[SimVisit]
    ) -> dict[str, Review]:
        left = []
        if case.status != PatientStatus.ACTIVE and case.status_on is not None:
            left.append(Ending(BECAUSE[PatientStatus(case.status)], case.status_on))
        revised = [Ending("revision", one.on) for one, _ in of.later if one.construct]
        events = [event["detected_on"] for event in case.complications]
        found: dict[str, Review] = {}
        for procedure, visits, missed, endings in (
            (of.index, case.visits, Counter(one.step for one in case.missed), [*left, *revised]),
            *((row, one.visits, Counter[str](), left) for one, row in of.later),
        ):
            happened = Happened(visits, every, events, missed, endings)
            rows = review_rows(
                batch,
                procedure,
                self.protocols.steps(procedure),
                self.calendars[case.site],
                happened,
                by=self.staff.coordinator,
                today=self.today,
            )
            found = found or rows
        return found

    def _visits(self, batch: Batch, of: Enrolled, visits: Iterable[SimVisit]) -> None:
        for visit in visits:
            if visit.film is not None:
                self._film(batch, of, visit.film)
            for exam in visit.motion:
                row = new(
                    MotionExam,
                    injury=of.injury,
                    examined_on=visit.on,
                    side=exam.side,
                    mode=exam.mode,
                    flexion_deg=exam.flexion_deg,
                    abduction_deg=exam.abduction_deg,
                    external_rotation_deg=exam.external_rotation_deg,
                    internal_rotation=exam.internal_rotation,
                )
                batch.fact(row, site=of.site, by=of.surgeon, on=visit.on)
            for instrument, value in visit.scores.items():
                score = new(
                    Score,
                    injury=of.injury,
                    instrument=instrument,
                    instrument_version=INSTRUMENTS[instrument].version,
                    taken_on=visit.on,
                    value=decimal(value),
                    hardware_in_place="yes" if visit.hardware_in_place else "no",
                )
                batch.fact(score, site=of.site, by=of.surgeon, on=visit.on)

    def _film(self, batch: Batch, of: Enrolled, one: SimFilm) -> None:
        film = new(
            Film,
            injury=of.injury,
            taken_on=one.taken_on,
            view=one.view,
            posture=one.posture,
            weighted=one.weighted,
            calibration=one.calibration,
            shows_both_sides=one.shows_both_sides,
        )
        batch.fact(film, site=of.site, by=of.surgeon, on=one.taken_on)
        unread = one.taken_on > self.today - timedelta(days=UNREAD_DAYS)
        for turn, read in enumerate(() if unread else one.readings, 1):
            reader = self.staff.reader(read.reader)
            looked = findings.looked_for(of, read, one.taken_on)
            reading = new(
                Reading,
                film=film,
                reader=reader,
                read_on=read.read_on,
                blind=read.blind,
                turn=turn,
                ccd_injured_mm=decimal(read.ccd_injured_mm),
                ccd_other_mm=decimal(read.ccd_other_mm),
                ccd_side_ratio_pct=decimal(read.ccd_side_ratio_pct),
                translation_pct=read.translation_pct,
                union=read.union,
                hardware=read.hardware,
                **(looked.columns or {}),
            )
            batch.fact(reading, site=of.site, by=reader, on=read.read_on)
            findings.finding_rows(batch, reading, looked.found)

    def _appointments(
        self, batch: Batch, case: SimCase, of: Enrolled, reviews: Mapping[str, Review]
    ) -> None:
        for miss in case.missed:
            review = reviews.get(miss.step)
            if review is not None:
                on = self._clinic_day(case.site, miss.on)
                self._book(batch, case, of, review, on, AppointmentState.MISSED)
        for visit in case.visits:
            review = reviews.get(visit.step)
            recent = visit.on >= self.today - timedelta(days=SLOTS_KEPT_DAYS)
            if recent and review is not None and review.attended_on == visit.on:
                self._book(batch, case, of, review, visit.on, AppointmentState.KEPT)
        for booking in case.bookings:
            review = reviews.get(booking.step)
            if review is None or review.state not in (*OPEN_STATES, ReviewState.MISSED):
                continue
            if self._book(batch, case, of, review, booking.on, AppointmentState.BOOKED):
                review.state = ReviewState.BOOKED

    def _book(
        self, batch: Batch, case: SimCase, of: Enrolled, review: Review, on: date, state: str
    ) -> bool:
        slot = self.diary.slot(case.site, of.surgeon.pk, on)
        if slot is None:
            return False
        clinic, at = slot
        row = new(
            Appointment,
            review=review,
            clinic=clinic,
            surgeon=clinic.surgeon,
            on=on,
            at=at,
            film_first=bool(review.step.film_views),
            state=state,
        )
        batch.fact(row, site=of.site, by=self.staff.coordinator, on=min(on, self.today))
        return True

    def _clinic_day(self, site: int, day: date) -> date:
        """Return the last day up to a day on which the site holds a clinic."""
        weekdays = self.calendars[site].clinic_weekdays
        return next(
            earlier
            for earlier in (day - timedelta(days=n) for n in range(7))
            if earlier.weekday() in weekdays
        )

    def _attempts(
        self, batch: Batch, case: SimCase, of: Enrolled, reviews: Mapping[str, Review]
    ) -> None:
        zone = batch.moment(self.today).tzinfo
        for tried in case.attempts:
            row = new(
                ContactAttempt,
                patient=of.patient,
                review=reviews.get(tried.step),
                tried_at=datetime.combine(tried.on, TRIED_AT, tzinfo=zone),
                means=tried.means,
                outcome=tried.outcome,
            )
            batch.fact(row, site=of.site, by=self.staff.coordinator, on=tried.on)
