"""Who tells patients of the slots that the hospital's system made."""

from followup.models.hospital_slots import HospitalSlot
from followup.models.reviews import Appointment
from registry.models.hospital_messages import HospitalDoor
from registry.models.sites import Site


def hospital_tells_at(site: Site) -> bool:
    """Say whether a site leaves it to the hospital to tell patients of slots that its system makes."""
    return HospitalDoor.objects.filter(site=site, tells_bookings=True).exists()


def hospital_tells(slot: Appointment) -> bool:
    """Say whether the hospital tells the patient of this slot: its system made it, not somebody here."""
    made = HospitalSlot.objects.filter(appointment=slot, made=True)
    return made.filter(site__hospital_door__tells_bookings=True).exists()
