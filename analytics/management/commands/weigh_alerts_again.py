from analytics.tasks.alerts import weigh_again
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Weigh every case about which an alert stands once more."
    task = weigh_again
