from config.tasks.background import catch_up
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Run the nightly work that a missed night left undone."
    task = catch_up
