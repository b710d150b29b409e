from followup.tasks.uploads import forget
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Delete the files of cases that were sent in the browser more than a week ago."
    task = forget
