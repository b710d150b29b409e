from followup.tasks.bulk_exports import forget
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Delete copies in FHIR whose time is over, with their files."
    task = forget
