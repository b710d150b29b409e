"""Announcements to the rooms above, sent inside the transaction of what they announce."""

from django.dispatch import Signal

# reading, by, now
reading_recorded = Signal()
# complication, by, now
complication_recorded = Signal()
# review, by, now
review_closed = Signal()
# film, by, now: what it is, not what was measured on it
film_corrected = Signal()
# batch, procedures (a question for the keys of the operations that it added): an import may be taken
# back; who knows answers with what builds on them, a sentence each, at most `most`
import_builders_asked = Signal()
# site; who knows answers with the last day after the operation on which a film can be a baseline
baseline_window_asked = Signal()
