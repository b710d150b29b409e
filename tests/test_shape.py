"""The rules of the house that no linter knows: sizes, places, names, and what templates may hold."""

import ast
import importlib.metadata
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from registry.models.injuries import Side

ROOT = Path(__file__).resolve().parents[1]
ROOMS = ("config", "analytics", "followup", "registry")
MOST_LINES = {".py": 500, ".html": 120, ".js": 150}
# Floors of which every file that holds a function has a test of its own.
TESTED = {
    *("rules", "services", "selectors", "exchange", "tasks"),
    *("endpoints", "estimators", "answers", "figures", "simulation"),
}
# Tests about several modules at once.
ABOUT_MANY = {
    "tests/analytics/test_load_snapshot.py": "analytics/__init__.py",
    "tests/followup/rules/test_planner_properties.py": "followup/rules/planner.py",
    "tests/followup/services/test_planning_properties.py": "followup/services/planning.py",
    "tests/registry/models/test_constraints.py": "registry/models",
    "tests/registry/management/test_trail_commands.py": "registry/management/commands",
    "tests/followup/management/test_background_commands.py": "followup/management/commands",
    "tests/followup/services/test_review_lives.py": "followup/services/reviews.py",
    "tests/followup/services/test_hardware_lives.py": "followup/services/hardware.py",
    "tests/config/test_security_lists.py": "config/SECURITY.md",
    "tests/followup/services/test_delivery_races.py": "followup/services/delivery.py",
    "tests/registry/services/test_recall.py": "registry/services/safety_notices.py",
    "tests/followup/exchange/test_film_store_objects.py": "followup/exchange/film_store.py",
    "tests/followup/services/test_hospital_streams.py": "followup/services/hospital_slots.py",
    "tests/registry/services/test_trail_tampering.py": "registry/services/audit.py",
    "tests/registry/services/test_implant_races.py": "registry/services/implants.py",
    "tests/registry/services/test_move_races.py": "registry/services/moves.py",
    "tests/registry/services/test_setup_races.py": "registry/services/setup.py",
    "tests/registry/services/test_token_races.py": "registry/services/tokens.py",
    "tests/registry/services/test_patient_races.py": "registry/services/patient_locks.py",
    "tests/followup/services/test_second_reading_races.py": "followup/services/second_readings.py",
    "tests/followup/services/test_import_kills.py": "followup/services/import_runs.py",
    "tests/followup/services/test_import_together.py": "followup/services/imports.py",
    "tests/registry/exchange/test_hostile_files.py": "registry/exchange/sheets.py",
    "tests/followup/exchange/test_image_fuzz.py": "followup/exchange/image_examiner.py",
    "tests/followup/views/test_unsaved_answers.py": "followup/views/questionnaires.py",
    "tests/config/test_contracts.py": "pyproject.toml",
    "tests/config/test_crashes.py": "config/celery.py",
    "tests/config/test_many_writers.py": "followup/services/visits.py",
    "tests/config/test_migration_rule.py": "registry/migrations",
    "tests/registry/migrations/test_many_tables.py": "registry/migrations/_many_tables.py",
    "tests/config/test_project.py": "Makefile",
    "tests/config/test_proxy.py": "config/proxy.conf",
    "tests/config/test_api_answers.py": "config/api_urls.py",
    "tests/config/test_api_client.py": "config/api_urls.py",
    "tests/config/test_api_fuzz.py": "config/api_urls.py",
    "tests/config/test_api_races.py": "config/api_urls.py",
}
WRITES = {"save", "create", "bulk_create", "bulk_update", "update_or_create", "get_or_create"}


def tracked() -> list[Path]:
    """Return every file that a clone carries, and those about to be."""
    done = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    files = [ROOT / line for line in done.stdout.splitlines()]
    return [file for file in files if file.is_file() and "vendor" not in file.parts]


FILES = tracked()
PYTHON = [file for file in FILES if file.suffix == ".py"]
CODE = [file for file in PYTHON if file.relative_to(ROOT).parts[0] in ROOMS]
TESTS = [file for file in PYTHON if file.relative_to(ROOT).parts[0] == "tests"]
TEMPLATES = [file for file in FILES if file.suffix == ".html"]
TREES = {file: ast.parse(file.read_text(), str(file)) for file in PYTHON}


def place(file: Path) -> str:
    return str(file.relative_to(ROOT))


def on_floor(*floors: str) -> list[Path]:
    """Return the modules of some floors of the rooms."""
    return [file for file in CODE if set(file.relative_to(ROOT).parts[1:-1]) & set(floors)]


def is_migration(file: Path) -> bool:
    return "migrations" in file.parts


def functions(file: Path) -> Iterator[ast.FunctionDef]:
    """Yield the functions of a module, those inside classes and functions too."""
    for node in ast.walk(TREES[file]):
        if isinstance(node, ast.FunctionDef):
            yield node


def offences(
    files: list[Path], find: Callable[[Path], Iterator[tuple[int, str]] | list[tuple[int, str]]]
) -> list[str]:
    """Return where something is found that should not be there: file, line and what."""
    return [f"{place(file)}:{line}: {what}" for file in files for line, what in find(file)]


def matching(pattern: str, flags: int = 0) -> Callable[[Path], list[tuple[int, str]]]:
    """Return a search for a pattern, line by line."""
    compiled = re.compile(pattern, flags)

    def find(file: Path) -> list[tuple[int, str]]:
        lines = enumerate(file.read_text().splitlines(), 1)
        return [(number, line.strip()[:160]) for number, line in lines if compiled.search(line)]

    return find


def test_no_file_is_longer_than_a_reader_holds_in_mind() -> None:
    # Migrations are written by the framework and read by nobody.
    long = {
        place(file): lines
        for file in FILES
        if file.suffix in MOST_LINES and not is_migration(file)
        if (lines := len(file.read_text().splitlines())) > MOST_LINES[file.suffix]
    }
    assert long == {}


def test_every_test_mirrors_a_module() -> None:
    stray = []
    for file in TESTS:
        parts = file.relative_to(ROOT).parts[1:]
        if parts[0] not in ROOMS or not file.name.startswith("test_"):
            continue
        name = file.name.removeprefix("test_")
        folder = ROOT.joinpath(*parts[:-1])
        if not ((folder / name).exists() or (folder / "commands" / name).exists()):
            stray.append(place(file))
    assert set(stray) <= set(ABOUT_MANY), "name it for its module, or say what it is about above"
    assert all((ROOT / about).exists() for about in ABOUT_MANY.values())


def test_every_module_that_does_something_has_a_test() -> None:
    without = []
    for file in on_floor(*TESTED):
        parts = file.relative_to(ROOT).parts
        test = ROOT.joinpath("tests", *parts[:-1], f"test_{file.name}")
        if file.name != "__init__.py" and any(functions(file)) and not test.exists():
            without.append(place(file))
    assert without == []


def test_a_module_is_named_for_its_subject() -> None:
    vague = {"utils", "util", "helpers", "helper", "misc", "common", "base_utils", "tools"}
    assert [place(file) for file in PYTHON if file.stem in vague] == []


def test_tests_are_plain_functions_named_in_sentences() -> None:
    def find(file: Path) -> Iterator[tuple[int, str]]:
        for node in TREES[file].body:
            if isinstance(node, ast.ClassDef) and node.name.startswith("Test"):
                yield node.lineno, f"class {node.name}"
            is_test = isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
            if is_test and node.name.count("_") < 3:
                yield node.lineno, f"{node.name} is no sentence"

    assert offences(TESTS, find) == []


def test_no_test_is_passed_over() -> None:
    words = r"pytest\.(skip|importorskip|xfail|mark\.(skip|xfail))|unittest\.skip"
    assert offences([file for file in TESTS if file != Path(__file__)], matching(words)) == []


def test_nothing_is_left_to_do_later() -> None:
    written = [file for file in FILES if file.suffix in {".py", ".html", ".js", ".css", ".md"}]
    left = r"\b(TO" + r"DO|FIX" + r"ME|XX" + r"X)\b"
    assert offences(written, matching(left)) == []


def test_nothing_speaks_of_the_place_where_it_was_written() -> None:
    written = [file for file in FILES if file.suffix in {".py", ".html", ".js", ".md", ".toml"}]
    elsewhere = r"(?<![\w.])/(wor" + r"k|roo" + r"t)/|\.\./sha" + r"red\b"
    assert offences(written, matching(elsewhere)) == []


def test_every_function_says_its_types() -> None:
    def find(file: Path) -> Iterator[tuple[int, str]]:
        for node in functions(file):
            given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
            bare = [one.arg for one in given if one.annotation is None]
            if node.returns is None or set(bare) - {"self", "cls"}:
                yield node.lineno, node.name

    assert offences([file for file in PYTHON if not is_migration(file)], find) == []


def test_only_models_are_handed_on_by_an_init() -> None:
    def find(file: Path) -> Iterator[tuple[int, str]]:
        for node in TREES[file].body:
            if isinstance(node, ast.Import | ast.ImportFrom):
                yield node.lineno, ast.unparse(node)

    inits = [file for file in CODE if file.name == "__init__.py" and file.parent.name != "models"]
    assert offences(inits, find) == []


def test_services_are_told_who_and_when_by_name() -> None:
    def find(file: Path) -> Iterator[tuple[int, str]]:
        for node in TREES[file].body:
            if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
                continue
            placed = {one.arg for one in (*node.args.posonlyargs, *node.args.args)}
            if placed & {"by", "now"}:
                yield node.lineno, node.name

    assert offences(on_floor("services"), find) == []


def test_models_hold_no_workflow() -> None:
    def find(file: Path) -> Iterator[tuple[int, str]]:
        for node in functions(file):
            if node.name in {"save", "delete", "clean", "full_clean"}:
                yield node.lineno, f"def {node.name}"

    assert offences(on_floor("models"), find) == []


def test_only_services_write() -> None:
    def find(file: Path) -> Iterator[tuple[int, str]]:
        for node in ast.walk(TREES[file]):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and node.func.attr in WRITES
                and not ast.unparse(node.func.value).endswith("service")
            ):
                yield node.lineno, ast.unparse(node.func)

    assert offences(on_floor("views", "api", "forms", "selectors", "tasks"), find) == []


def test_views_are_functions_and_ask_for_actions_not_for_roles() -> None:
    def find(file: Path) -> Iterator[tuple[int, str]]:
        for node in ast.walk(TREES[file]):
            if isinstance(node, ast.ClassDef) and any("View" in ast.unparse(b) for b in node.bases):
                yield node.lineno, f"class {node.name}"
            if isinstance(node, ast.Compare) and "role" in ast.unparse(node):
                yield node.lineno, ast.unparse(node)

    assert offences(on_floor("views"), find) == []


def test_models_are_imported_and_not_looked_up_by_name() -> None:
    files = [file for file in CODE if not is_migration(file)]
    assert offences(files, matching(r"\bget_model\(")) == []


# What a template may not hold: the words for it, the pattern, and an example that it finds.
FORBIDDEN = {
    "a script of its own": (r"<script(?![^>]*\bsrc=)", "<script>act()</script>"),
    "a style of its own": (r"<style|\sstyle\s*=", '<p style="color: red">'),
    "an act bound to its element": (r"\son[a-z]+\s*=|javascript:|\shx-on", '<p onclick="act()">'),
    "text that is not escaped": (r"\|\s*safe\b|autoescape\s+off", "{{ name|safe }}"),
    "an address that has a name": (
        r"(href|action|hx-get|hx-post)=\"/(?!/)[a-z]",
        '<a href="/due/">',
    ),
}


@pytest.mark.parametrize("what", FORBIDDEN)
def test_templates_hold_no_script_no_style_and_no_raw_text(what: str) -> None:
    pattern, example = FORBIDDEN[what]
    assert re.search(pattern, example)
    assert offences(TEMPLATES, matching(pattern, re.IGNORECASE)) == []


def test_code_marks_no_text_as_safe() -> None:
    assert offences(CODE, matching(r"\b(mark_safe|SafeString|csrf_exempt)\b")) == []


def test_left_and_right_are_written_as_words() -> None:
    assert dict(Side.choices) == {"left": "Left", "right": "Right"}
    # No column and no shown text carries a side as a letter.
    letters = r"[\"'>](L|R|Lt|Rt|lt|rt)[\"'<]"
    scripts = [file for file in FILES if file.suffix == ".js"]
    assert offences([*CODE, *TEMPLATES, *scripts], matching(letters)) == []


def test_no_colour_stands_for_a_side() -> None:
    sheets = [file for file in FILES if file.suffix == ".css"]
    assert sheets
    assert offences(sheets, matching(r"[.\[#][\w-]*\b(left|right)\b[^;:]*\{")) == []


def locked(name: str) -> set[str]:
    """Return the distributions that a lock file pins."""
    pins = re.findall(r"^([A-Za-z0-9._-]+)==", (ROOT / name).read_text(), re.MULTILINE)
    return {pin.lower().replace("_", "-") for pin in pins}


def imported(files: list[Path]) -> dict[str, str]:
    """Return the top-level packages that some files import, each with one of the places."""
    found: dict[str, str] = {}
    for file in files:
        for node in ast.walk(TREES[file]):
            names = [one.name for one in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module]
            for name in names:
                found.setdefault(name.split(".")[0], f"{place(file)}:{node.lineno}")
    return found


@pytest.mark.parametrize(
    ("files", "lock"), [(CODE, "requirements.txt"), (TESTS, "requirements-dev.txt")]
)
def test_what_is_imported_is_locked(files: list[Path], lock: str) -> None:
    makers = importlib.metadata.packages_distributions()
    ours = {*ROOMS, "tests", *sys.stdlib_module_names}
    unlocked = {
        name: where
        for name, where in imported(files).items()
        if name not in ours
        if not {maker.lower().replace("_", "-") for maker in makers.get(name, [])} & locked(lock)
    }
    assert unlocked == {}


def test_nothing_is_installed_but_what_is_locked() -> None:
    found = offences(
        [file for file in FILES if file.name in {"Makefile", "Dockerfile", "run", "compose.yaml"}],
        matching(r"\b(pip|uv|npm|apt|apt-get) +(install|add)\b"),
    )
    assert [line for line in found if "--require-hashes -r requirements.txt" not in line] == []
