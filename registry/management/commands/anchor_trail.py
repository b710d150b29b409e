from registry.management.job_command import JobCommand
from registry.tasks.audit import anchor


class Command(JobCommand):
    help = (
        "Write down outside the database how far the audit trail goes (HOLDFAST_TRAIL_ANCHORS), so "
        "that an end that was taken away is missed."
    )
    task = anchor
