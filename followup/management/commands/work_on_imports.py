from followup.tasks.imports import work
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = (
        "Read, check and land the files of cases that were sent in the browser, as far as they go."
    )
    task = work
