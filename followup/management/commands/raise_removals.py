from followup.tasks.hardware import prompt
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Raise the question of removal where a construct's removal window has opened."
    task = prompt
