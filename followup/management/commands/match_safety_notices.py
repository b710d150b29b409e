from followup.tasks.safety_notices import match
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = (
        "Hold every part against every safety notice in force again, and open or close the tasks "
        "about patients accordingly."
    )
    task = match
