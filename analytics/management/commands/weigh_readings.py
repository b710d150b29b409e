from analytics.tasks.alerts import weigh
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Weigh the cases whose films were read, and raise or take back their alerts."
    task = weigh
