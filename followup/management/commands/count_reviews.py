from followup.tasks.sums import count
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Count the reviews of every site by how they stand, and whether the sums agree."
    task = count
