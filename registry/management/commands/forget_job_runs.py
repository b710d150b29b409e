from registry.management.job_command import JobCommand
from registry.tasks.jobs import forget


class Command(JobCommand):
    help = "Delete what the background wrote down about itself more than a month ago."
    task = forget
