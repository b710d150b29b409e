from followup.tasks.images import sweep
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Delete the files of films that no image names, and those of images voided a month ago."
    task = sweep
