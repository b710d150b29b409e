from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from registry.errors import HoldfastError
from registry.models.patients import Patient
from registry.models.people import Person
from registry.services import erasure


class Command(BaseCommand):
    help = (
        "Erase a patient on request: identity and numbers are removed, in the trail too. The facts "
        "stay under the key only where the patient's last decision allows their use in the registry."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("key", help="the patient's key")
        parser.add_argument("--by", required=True, help="your user name")
        parser.add_argument("--reason", required=True, help="who asked for it, when, in what way")
        parser.add_argument("--yes", action="store_true", help="do not ask again")

    def handle(self, *args: Any, **given: Any) -> None:
        patient = Patient.everything.filter(key=given["key"].strip().upper()).first()
        if patient is None:
            raise CommandError(f"There is no patient with the key {given['key']}.")
        by = Person.objects.filter(username=given["by"], is_active=True).first()
        if by is None:
            raise CommandError(f"--by: nobody with the user name '{given['by']}' may sign in.")
        if not given["yes"] and not self._confirmed(patient):
            raise CommandError("Nothing was erased.")
        try:
            done = erasure.erase_patient(
                patient=patient,
                reason=given["reason"],
                by=by,
                now=timezone.now(),
                today=timezone.localdate(),
            )
        except HoldfastError as fault:
            raise CommandError(str(fault)) from fault
        self._report(patient, done)

    def _confirmed(self, patient: Patient) -> bool:
        stay = "stay" if erasure.may_keep_facts(patient) else "are voided"
        self.stdout.write(f"Erase {patient}? Names and numbers go for good; the facts {stay}.")
        return input("Type the key to go on: ").strip().upper() == patient.key

    def _report(self, patient: Patient, done: erasure.Erasure) -> None:
        self.stdout.write(
            f"{patient} erased: {done.identities_removed} identities and "
            f"{done.identifiers_removed} numbers removed, "
            f"{done.trail_entries_blanked} entries of the trail blanked."
        )
        self.stdout.write(
            "The facts stay under the key: the patient allowed it."
            if done.keeps_facts
            else f"{done.rows_voided} rows of the registry voided, with the follow-up on them."
        )
        for line in done.told:
            self.stdout.write(line)
