"""Announcements to the rooms above. They are sent inside the transaction: a failing hearer undoes it."""

from django.dispatch import Signal

# procedure, by, now, today
procedure_recorded = Signal()
# procedure, by, now, today
operation_date_corrected = Signal()
# patient, by, now, today
patient_status_changed = Signal()
# patient, by, now, today: whether a patient lets their data be used in the registry was decided
registry_choice_made = Signal()
# patient, by, now, today: a number, an address or another contact became known or was corrected
contact_changed = Signal()
# procedure, by, now, today: what was implanted became known, or another construct type
construct_recorded = Signal()
# kept, merged, by, now; a hearer returns the rows that it moved, by table
patients_merged = Signal()
# kept, merged, moved, by, now; `moved` is what the hearers of the merge returned
patients_unmerged = Signal()
# patients (the entries of one person): a hearer returns lines of what it holds on them besides its tables
holdings_asked = Signal()
# patient, keep_facts, reason, by, now; a hearer returns, in words, what else may still name the patient
patient_erased = Signal()
# site, by, now, today: a place was added or changed; `by` is None where the service itself does it
site_saved = Signal()
# row, reason, by, now; the sender is the row's class
row_voided = Signal()
# row, by, now: a clinical row was saved, new or over itself, or voided; the sender is the row's class
row_written = Signal()
# article, by, now: an implant model was added or corrected
article_saved = Signal()
# notice, carriers, by, now: somebody was found whom a safety notice is about and who is to be reached
carriers_found = Signal()
# carrier, by, now: a step was taken about somebody whom a safety notice is about
carrier_moved = Signal()
# patient, site, slot, clock, message_id, by, now, today: the hospital's system says something of a
# slot; who keeps appointments answers with a fate and why
hospital_slot_said = Signal()
# batch, injuries (their keys), by, now: an import was taken back, with everything that it had added
import_undone = Signal()
# injury, came_from, to, by, now, today: an injury went to another patient; a hearer returns the rows that
# it moved, by table
injury_moved = Signal()
# injury, came_from, to, moved, by, now, today; `moved` is what the hearers of the move returned
injury_moved_back = Signal()
# injury, rows, by, now, today: the injury is of the other side; `rows` are None for what hearers find,
# or what they returned when it was changed before
injury_side_changed = Signal()
# procedures (their keys), came_from, to (injuries), along, by, now, today: an operation, with what revises
# it, went to another injury; a hearer returns the rows that it moved or changed, by table
operation_moved = Signal()
# procedures, came_from, to, moved, by, now, today; `moved` is what the hearers of the move returned
operation_moved_back = Signal()
# injury: it was made for an operation that has left it; who keeps what is found answers whether anything is
injury_left = Signal()
# person, by, now: somebody was shut out; whatever else would let them read is to be taken from them
person_shut_out = Signal()
