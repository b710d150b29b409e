"""What the trail says of one patient, of every room, as far as a person may see it."""

from django.db.models import QuerySet

from followup.models.films import Reading
from followup.models.findings import ReadingFinding
from followup.selectors.films import readings_seen_by
from registry.models.audit import AuditEntry
from registry.models.patients import Patient
from registry.selectors import history
from registry.selectors.patient_tables import rows_of
from registry.selectors.visible import Viewer, sites_of_patient


def entries_of(user: Viewer, patient: Patient) -> QuerySet[AuditEntry]:
    """Return the trail's entries about a patient and all that hangs on them; the newest first.

    What is of another site is left out, and what others read on a film that this person has taken to
    read blind.
    """
    rows = rows_of(patient, sites_of_patient(user, patient))
    theirs = Reading.everything.filter(film__injury__patient=patient)
    hidden = list(
        theirs.exclude(pk__in=readings_seen_by(user).values("pk"))
        .exclude(voided_at__isnull=False)
        .values_list("pk", flat=True)
    )
    found = ReadingFinding.everything.filter(reading__in=hidden).values_list("pk", flat=True)
    for model, keys in ((Reading, hidden), (ReadingFinding, found)):
        rows.get(model._meta.db_table, set()).difference_update(map(str, keys))
    return history.entries_about(rows)
