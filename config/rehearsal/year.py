"""The rehearsal itself: a clock that goes from day to day, and what happens at each hour."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings

from analytics.simulation.draws import Draws
from analytics.simulation.habits import habits
from config.demo.load import is_empty
from config.rehearsal import accounts, home, lives, stage, work
from config.rehearsal.letterbox import Letterbox
from config.rehearsal.lives import LIFE, Life
from config.rehearsal.nights import Background
from registry.errors import BadInput
from registry.models import ConstructType

DAYS = 365
# Nights on which the machine is down: some single ones, and once three in a row.
DOWN_SHARE, DOWN_FROM_DAY, DOWN_NIGHTS = 0.03, 100, 3
AGAIN_EVERY = 30
LATE_ON = (1, 3)
RINGS_ON = (0, 2, 4)
NIGHT, MORNING, POST, CLINIC, EVENING, LATE = (
    *(time(1, 15), time(7, 0), time(8, 30)),
    *(time(10, 0), time(17, 30), time(22, 30)),
)


@dataclass
class Report:
    """What the year came to."""

    days: int = 0
    nights_missed: int = 0
    jobs_made_up: int = 0
    changed_by_a_second_run: int = 0
    days_that_balanced: int = 0
    letters: int = 0
    wrong_with_post: list[str] = field(default_factory=list)
    unexplained: int = 0
    without_question: int = 0
    waiting_over_a_day: int = 0
    events: Counter[str] = field(default_factory=Counter)
    background: Counter[str] = field(default_factory=Counter)
    table: accounts.Table = field(default_factory=list)

    @property
    def is_good(self) -> bool:
        """Whether everybody and everything is accounted for."""
        wrong = (
            self.changed_by_a_second_run,
            self.unexplained,
            self.without_question,
            self.waiting_over_a_day,
        )
        return self.days_that_balanced == self.days and not any(wrong) and not self.wrong_with_post


def rehearse(
    *,
    patients: int,
    seed: int,
    start: date,
    days: int = DAYS,
    progress: Callable[[int], object] = lambda days: None,
) -> Report:
    """Live through a year in an empty database that has the shipped defaults; return its report.

    Raises BadInput where there are sites, people or patients already, Unaccounted on the first day
    on which the books do not balance.
    """
    if not is_empty():
        raise BadInput(
            "There are sites, people or patients in this database. A year is rehearsed in an empty "
            "one only: leave HOLDFAST_DATABASE out, and one is made and thrown away."
        )
    if not ConstructType.objects.exists():
        raise BadInput("There are no construct types yet; run load_defaults first.")
    kept, settings.EMAIL_BACKEND = settings.EMAIL_BACKEND, f"{Letterbox.__module__}.Letterbox"
    Letterbox.letters.clear()
    try:
        return _Year(patients, seed, start, days).run(progress)
    finally:
        settings.EMAIL_BACKEND, Letterbox.now = kept, None


class _Year:
    def __init__(self, patients: int, seed: int, start: date, days: int) -> None:
        self._start, self._days, self._zone = start, days, ZoneInfo(stage.ZONE)
        first = self._at(start, MORNING)
        self._stage = stage.build(start=start, now=first)
        self._people = [
            Life(habits(seed=seed, number=number, days=days), Draws(seed, number, LIFE))
            for number in range(patients)
        ]
        self._known: dict[int, Life] = {}
        self._luck = Draws(seed, patients, LIFE)
        self._background = Background()
        self._report = Report()
        self._down: dict[int, bool] = {}

    def run(self, progress: Callable[[int], object]) -> Report:
        for day in range(self._days):
            self._live(day, self._start + timedelta(days=day))
            progress(1)
        report, last = self._report, self._start + timedelta(days=self._days - 1)
        report.letters = len(Letterbox.letters)
        report.wrong_with_post = list(accounts.read_post(Letterbox.letters))
        report.unexplained = accounts.unexplained()
        report.without_question = accounts.decisions_left(last)
        report.waiting_over_a_day = accounts.silence(self._at(last, LATE))
        report.background = self._background.counts
        report.table = accounts.tables()
        return report

    def _live(self, day: int, today: date) -> None:
        up = not self._is_down(day)
        self._night(day, today, up=up)
        self._life(day, today)
        if up:
            self._background.daytime(self._at(today, POST))
        if today.weekday() in RINGS_ON:
            now = self._at(today, CLINIC)
            work.ring_round(self._stage, self._known, now=now, today=today)
        if today.weekday() in stage.CLINIC_ON:
            self._clinic(self._at(today, CLINIC), today)
        self._report.events["answered at home"] += home.answer(
            self._stage, self._known, now=self._at(today, EVENING), today=today
        )
        if up and today.weekday() in LATE_ON:
            self._background.daytime(self._at(today, EVENING))
            # By night nothing may go: what was put in since then waits for the morning.
            self._background.daytime(self._at(today, LATE))
        accounts.balance(self._stage, today, swept=up)
        self._report.days += 1
        self._report.days_that_balanced += 1

    def _clinic(self, now: datetime, today: date) -> None:
        work.hold_clinic(self._stage, self._known, now=now, today=today)
        for review in work.see_who_comes_late(self._stage, self._known, now=now, today=today):
            life = self._known[review.procedure.injury.patient_id]
            lives.tell_number(life, self._stage, now=now, today=today)
        work.answer_removals(self._stage, self._known, now=now, today=today)

    def _night(self, day: int, today: date, *, up: bool) -> None:
        if not up:
            self._report.nights_missed += 1
            return
        # When the machine is back, it makes up at its start for what it owes.
        late = day > 0 and self._is_down(day - 1)
        now = self._at(today, MORNING if late else NIGHT)
        if late:
            self._report.jobs_made_up += self._background.catch_up(now)
        else:
            self._background.night(now)
        if day % AGAIN_EVERY == 0:
            # At the same moment: hours later something else may have fallen due.
            self._report.changed_by_a_second_run += self._background.night_again(now)

    def _life(self, day: int, today: date) -> None:
        now = self._at(today, MORNING)
        for life in self._people:
            if life.habits.operated_day == day - 1:
                operated_on = today - timedelta(days=1)
                lives.enrol(life, self._stage, operated_on=operated_on, now=now, today=today)
                assert life.patient is not None  # noqa: S101 - just enrolled
                self._known[life.patient.pk] = life
            elif life.patient is not None:
                event = lives.events(life, self._stage, day=day, now=now, today=today)
                if event:
                    self._report.events[event] += 1

    def _is_down(self, day: int) -> bool:
        if day not in self._down:
            alone = self._luck.chance(DOWN_SHARE)
            planned = DOWN_FROM_DAY <= day < DOWN_FROM_DAY + DOWN_NIGHTS
            self._down[day] = day > 0 and (alone or planned)
        return self._down[day]

    def _at(self, day: date, hour: time) -> datetime:
        Letterbox.now = datetime.combine(day, hour, tzinfo=self._zone)
        return Letterbox.now
