from analytics.tasks.snapshots import refresh
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Take a snapshot for the figures where the newest is out of date."
    task = refresh
