from followup.tasks.messages import remind
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Put the reminders that fall due into the outbox, by each site's plan."
    task = remind
