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
# site; who knows answers with the last day after the operation on which a film can be a baseline
baseline_window_asked = Signal()
