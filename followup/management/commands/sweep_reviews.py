from followup.tasks.planning import sweep
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Plan what is missing, move what lies on a day without a clinic, end what has closed."
    task = sweep
