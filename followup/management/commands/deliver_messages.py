from followup.tasks.messages import deliver
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Send the messages to patients that may go now."
    task = deliver
