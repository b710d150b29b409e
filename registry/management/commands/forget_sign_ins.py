from registry.management.job_command import JobCommand
from registry.tasks.sign_ins import forget


class Command(JobCommand):
    help = "Let go of old sign-in events, counts of failed tries and sessions that are over."
    task = forget
