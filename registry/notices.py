"""Announcements to the rooms above. They are sent inside the transaction: a failing hearer undoes it."""

from django.dispatch import Signal

# procedure, by, now, today
procedure_recorded = Signal()
# procedure, by, now, today
operation_date_corrected = Signal()
# patient, by, now, today
patient_status_changed = Signal()
# kept, merged, by, now
patients_merged = Signal()
