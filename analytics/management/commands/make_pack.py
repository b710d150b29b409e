from analytics.tasks.packs import make
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Make the packs of figures that were asked for and are not ready."
    task = make
