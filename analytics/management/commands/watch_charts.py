from analytics.tasks.signals import watch
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Let the running charts take in the cases that have settled, and open their signals."
    task = watch
