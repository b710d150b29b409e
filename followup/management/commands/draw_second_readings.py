from followup.tasks.readings import draw
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = (
        "Hold every film that was read against its site's policy: want the second and third readings "
        "that it asks for, withdraw what it asks for no more, return what was taken and not read."
    )
    task = draw
