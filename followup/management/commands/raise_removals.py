from followup.tasks.hardware import prompt
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = (
        "Raise the question of removal where a construct's window has opened, bring back what was "
        "deferred until today, and tell the coordinator of what nobody decides."
    )
    task = prompt
