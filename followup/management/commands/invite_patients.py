from followup.tasks.questionnaires import invite
from registry.management.job_command import JobCommand


class Command(JobCommand):
    help = "Invite patients to answer at home where a window has opened, and remind who has not."
    task = invite
