import json
import sys
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.utils import timezone
from tqdm import tqdm

from config import verifying
from config.tasks.records import verify
from config.verifying import Finding
from registry.errors import HoldfastError
from registry.management.job_command import JobCommand
from registry.services.invariants import Files, Looking


class Command(JobCommand):
    help = (
        "Hold every record against every rule of the service, and every file against its hash. "
        "Reads only. Ends with 1 and names the rows where a rule is broken."
    )
    task = verify

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true", help="for programs")
        parser.add_argument("--list", action="store_true", help="say the rules and look at nothing")
        parser.add_argument("--rule", action="append", default=[], help="look at this one alone")
        parser.add_argument(
            "--files",
            choices=[one.value for one in Files],
            default=Files.ALL.value,
            help="which files of films are read whole: all, those of tonight's share, or none",
        )

    def handle(self, *args: Any, **given: Any) -> None:
        try:
            rules = verifying.chosen(given["rule"])
        except HoldfastError as fault:
            raise CommandError(str(fault)) from fault
        if given["list"]:
            self.stdout.writelines(f"{one.name}: {one.sentence}\n" for one in rules)
            return
        looking = Looking(timezone.now(), Files(given["files"]))
        silent = given["json"] or not sys.stderr.isatty()
        with tqdm(total=len(rules), unit=" rules", disable=silent) as bar:
            findings = verifying.look_through(looking, rules, lambda finding: bar.update())
        if given["json"]:
            self.stdout.write(json.dumps(_plain(looking, findings), indent=1))
        else:
            self.stdout.writelines(line for one in findings for line in _lines(one))
        broken = [one for one in findings if not one.holds]
        if broken:
            raise CommandError(f"{len(broken)} of {len(findings)} rules are broken.")
        if not given["json"]:
            self.stdout.write(f"All {len(findings)} rules hold.")


def _lines(finding: Finding) -> list[str]:
    rule = finding.invariant
    if finding.holds:
        return [f"holds   {rule.name}: {rule.sentence}\n"]
    told = [f"BROKEN  {rule.name}: {rule.sentence} {finding.number} times:\n"]
    told += [f"          {one.where}: {one.what}\n" for one in finding.first]
    if finding.number > len(finding.first):
        told.append(f"          and {finding.number - len(finding.first)} more\n")
    return told


def _plain(looking: Looking, findings: list[Finding]) -> dict[str, Any]:
    return {
        "looked_at": looking.now.isoformat(timespec="seconds"),
        "holds": all(one.holds for one in findings),
        "rules": [
            {
                "name": one.invariant.name,
                "sentence": one.invariant.sentence,
                "holds": one.holds,
                "breaches": one.number,
                "first": [{"where": row.where, "what": row.what} for row in one.first],
            }
            for one in findings
        ],
    }
