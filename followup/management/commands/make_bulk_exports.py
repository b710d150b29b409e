from followup.tasks.bulk_exports import make
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Make the copies in FHIR that were asked for."
    task = make
