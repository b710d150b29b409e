from analytics.tasks.alerts import tell
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Tell surgeons by e-mail of reductions that may be lost, each of them once."
    task = tell
