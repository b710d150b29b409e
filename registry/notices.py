"""Announcements to the rooms above. They are sent inside the transaction: a failing hearer undoes it."""

from django.dispatch import Signal

# procedure, by, now, today
procedure_recorded = Signal()
# procedure, by, now, today
operation_date_corrected = Signal()
# patient, by, now, today
patient_status_changed = Signal()
# patient, by, now, today: a number, an address or another contact became known or was corrected
contact_changed = Signal()
# procedure, by, now, today: what was implanted became known, or another construct type
construct_recorded = Signal()
# kept, merged, by, now; a hearer returns the rows that it moved, by table
patients_merged = Signal()
# kept, merged, moved, by, now; `moved` is what the hearers of the merge returned
patients_unmerged = Signal()
# patient, keep_facts, reason, by, now
patient_erased = Signal()
# site, by, now, today: a place was added or changed; `by` is None where the service itself does it
site_saved = Signal()
# row, reason, by, now; the sender is the row's class
row_voided = Signal()
