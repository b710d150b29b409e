from followup.tasks.replies import forget
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Blank answers of patients that were seen to and are older than the rule of their site."
    task = forget
