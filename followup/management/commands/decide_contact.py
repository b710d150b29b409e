from followup.tasks.contacts import decide
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Decide by each site's policy who cannot be reached, and who is back on the list."
    task = decide
