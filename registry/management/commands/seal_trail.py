from registry.management.job_command import JobCommand
from registry.tasks.audit import seal


class Command(JobCommand):
    help = "Seal every entry of the audit trail that is not in its hash chain yet."
    task = seal
