from registry.management.job_command import JobCommand
from registry.tasks.hospital_messages import forget


class Command(JobCommand):
    help = "Let go of the texts of settled messages of the hospital's system after the site's days."
    task = forget
