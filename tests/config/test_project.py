"""What a clone carries: locked dependencies without a host, and the commands that are promised."""

import re
import subprocess
import tomllib
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).resolve().parents[2]
LOCKS = ("requirements.txt", "requirements-dev.txt")


def pins(lock: str) -> dict[str, list[str]]:
    """Return the pinned lines of a lock file and the hashes of each."""
    found: dict[str, list[str]] = {}
    for line in (ROOT / lock).read_text().splitlines():
        if line[:1].strip():
            pin = line.removesuffix("\\").strip()
            found[pin] = []
        else:
            found[pin] += re.findall(r"--hash=sha256:([0-9a-f]{64})", line)
    return found


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_names_no_host_and_pins_each_package_with_its_hashes(lock: str) -> None:
    text = (ROOT / lock).read_text()
    assert "://" not in text
    assert "index-url" not in text
    for pin, hashes in pins(lock).items():
        assert re.match(r"^[a-z0-9][a-z0-9._-]*==\S+( ; .+)?$", pin), pin
        assert hashes, pin


def test_the_tools_of_the_tests_come_on_top_of_what_runs() -> None:
    assert pins("requirements.txt").items() <= pins("requirements-dev.txt").items()


def test_nothing_under_the_gpl_is_shipped() -> None:
    shipped = {pin.split("==")[0] for pin in pins("requirements.txt")}
    assert not shipped & {"djlint", "djhtml", "cssbeautifier", "jsbeautifier"}


@pytest.mark.parametrize("target", ["run", "test", "check", "test-one", "format", "lock"])
def test_a_promised_command_is_there(target: str) -> None:
    done = subprocess.run(
        ["make", "--dry-run", target, "PORT=8123"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_make_run_passes_the_port_on() -> None:
    done = subprocess.run(
        ["make", "--dry-run", "run", "PORT=8123"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert "--port '8123'" in done.stdout


def test_the_rules_of_security_are_on_and_each_exception_is_explained() -> None:
    text = (ROOT / "pyproject.toml").read_text()
    lint = tomllib.loads(text)["tool"]["ruff"]["lint"]
    assert "S" in lint["select"]
    assert not [rule for rule in lint["ignore"] if rule.startswith("S")]
    lines = text.splitlines()
    for number, line in enumerate(lines):
        if re.match(r'^".*" = \[.*"S\d+"', line):
            assert lines[number - 1].startswith("# "), f"say why: {line}"
    rooms = ("config", "registry", "followup", "analytics", "tests")
    without = [
        f"{file.relative_to(ROOT)}: {line.strip()}"
        for room in rooms
        for file in sorted((ROOT / room).rglob("*.py"))
        for line in file.read_text().splitlines()
        if re.search(r"# noqa: (?:\w+, ?)*S\d+(?!\d)(?!.* - \w)", line)
    ]
    assert without == []


def test_continuous_integration_runs_the_whole_of_make_test() -> None:
    script = ROOT / ".ci" / "run"
    assert script.stat().st_mode & 0o100
    assert script.read_text().splitlines()[-1] == "exec make test"


def test_every_container_of_the_service_gets_the_settings_of_its_own_file() -> None:
    services = yaml.safe_load((ROOT / "compose.yaml").read_text())["services"]
    ours = {name: one for name, one in services.items() if one.get("image") == "holdfast"}
    assert set(ours) == {"prepare", "web", "worker", "beat", "hospital"}
    for one in ours.values():
        assert one["env_file"] == [{"path": "holdfast.env", "required": False}]
        assert "${COPIES:-copies}:/copies" in one["volumes"]
        # What is told here goes before the file: no database but the role's own.
        assert not [name for name in one["environment"] if name.startswith("POSTGRES")]


def test_the_production_file_and_the_settings_name_the_same_settings() -> None:
    named = set(re.findall(r"\bHOLDFAST_[A-Z0-9_]+", (ROOT / "compose.yaml").read_text()))
    named |= set(re.findall(r"\bHOLDFAST_[A-Z0-9_]+", (ROOT / "Dockerfile").read_text()))
    read = set()
    for file in (ROOT / "config").glob("*.py"):
        read |= set(re.findall(r'"(HOLDFAST_[A-Z0-9_]+)"', file.read_text()))
    assert named <= read
