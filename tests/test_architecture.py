"""The shape of the code: which way imports go, how long files get, what no file may hold."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("anomalies", "config", "faulttree")
LONGEST_FILE = 400

ALLOWED = {  # the longest prefix counts; the value is what of ours may be imported there
    "faulttree.engine": {"faulttree.engine"},
    "faulttree": {"faulttree", "config.kit", "config.env"},
    "anomalies": {"anomalies", "faulttree.facade", "config.kit", "config.env"},
    "config.kit": {"config.kit"},
    "config": {"config"},
}
WEB = ("django", "rest_framework", "celery", "structlog", "environ")
DOORS = {"bench", "views", "forms", "web", "api", "tasks", "management"}
LAYERS = {  # part of an app -> parts of the same app that it may not import
    "models": {"services", "bridge", "queue", "permissions"} | DOORS,
    "states": {"models", "services", "bridge", "queue", "permissions"} | DOORS,
    "queue": {"services"} | DOORS,
    "permissions": {"services"} | DOORS,
    "bridge": {"services"} | DOORS,
    "services": DOORS,
    "reads": DOORS,
    "tasks": DOORS - {"tasks"},
    "web": {"bench", "views", "forms", "api", "tasks", "management"},
    "bench": {"api", "tasks", "management", "engine"},
    "api": {"bench", "tasks", "management", "engine"},
}


def modules() -> Iterator[tuple[str, Path]]:
    """All our modules: dotted name and file."""
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            yield ".".join(parts[:-1] if parts[-1] == "__init__" else parts), path


MODULES = dict(modules())


def imports(source: str, module: str, *, is_package: bool) -> Iterator[str]:
    """Every name that is imported, absolute, also inside functions."""
    parts = module.split(".")
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            drop = node.level - (1 if is_package else 0)
            base = ".".join(parts[: len(parts) - drop]) if node.level else ""
            stem = ".".join(filter(None, [base, node.module or ""]))
            yield from (f"{stem}.{alias.name}" for alias in node.names)


def is_inside(name: str, root: str) -> bool:
    return name == root or name.startswith(root + ".")


def forbidden(source: str, module: str, *, is_package: bool = False) -> list[str]:
    """The imports of a module that go against the arrows."""
    home = max((root for root in ALLOWED if is_inside(module, root)), key=len)
    names = set(imports(source, module, is_package=is_package))
    wrong = {
        name
        for name in names
        if any(is_inside(name, package) for package in PACKAGES)
        and not any(is_inside(name, allowed) for allowed in ALLOWED[home])
    }
    if home == "faulttree.engine":
        wrong |= {name for name in names if any(is_inside(name, web) for web in WEB)}
    app, _, rest = module.partition(".")
    barred = LAYERS.get(rest.split(".")[0], set()) if app != "config" and home != "faulttree.engine" else set()
    wrong |= {name for name in names if any(is_inside(name, f"{app}.{part}") for part in barred)}
    return sorted(wrong)


def test_imports_only_go_down():
    wrong = {
        module: forbidden(path.read_text(), module, is_package=path.name == "__init__.py")
        for module, path in MODULES.items()
    }
    assert {module: names for module, names in wrong.items() if names} == {}


@pytest.mark.parametrize(
    ("module", "source", "wrong"),
    [
        ("faulttree.engine.model", "import django.db", ["django.db"]),
        ("faulttree.engine.model", "from ..models import Tree", ["faulttree.models.Tree"]),
        ("faulttree.engine.model", "def f():\n    from faulttree import bridge", ["faulttree.bridge"]),
        ("faulttree.engine.model", "from faulttree.engine.budget import Budget", []),
        ("faulttree.services.runs", "import anomalies.models", ["anomalies.models"]),
        ("faulttree.services.runs", "from faulttree.bench import views", ["faulttree.bench.views"]),
        ("faulttree.services.runs", "from faulttree.models import Run\nfrom config.kit.errors import Refused", []),
        ("faulttree.models.run", "from faulttree.services import runs", ["faulttree.services.runs"]),
        ("anomalies.models", "from faulttree.models import Tree", ["faulttree.models.Tree"]),
        ("anomalies.models", "from faulttree.facade import find_event", []),
        ("config.kit.errors", "from config import env", ["config.env"]),
    ],
)
def test_the_import_check_catches_what_it_should(module, source, wrong):
    assert forbidden(source, module) == wrong


def test_files_stay_short():
    lengths = {module: len(path.read_text().splitlines()) for module, path in MODULES.items()}
    assert {module: length for module, length in lengths.items() if length > LONGEST_FILE} == {}


def test_the_engine_works_without_django():
    engine = sorted(name for name in MODULES if is_inside(name, "faulttree.engine"))
    script = "\n".join(
        [
            "import sys, importlib",
            f"for name in {WEB!r}: sys.modules[name] = None",
            f"for name in {engine!r}: importlib.import_module(name)",
            "from faulttree.engine.quantify import quantify",
            "from faulttree.engine.model import BasicEvent, Combination, Connective, Gate, Model, Number, Reference",
            "both = Combination(Connective.AND, (Reference('a'), Reference('b')))",
            "events = {name: BasicEvent(name, Number(0.5)) for name in 'ab'}",
            "print(quantify(Model(gates={'top': Gate('top', both)}, basic_events=events)).probability)",
        ]
    )
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout == "0.25\n"


def tracked_files() -> list[Path]:
    """Text files under version control, or every file of ours where there's no git."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("not a git checkout")
    paths = [ROOT / name for name in listed.stdout.split("\0") if name]
    return [path for path in paths if path.is_file() and b"\0" not in path.read_bytes()[:8000]]


NOT_OURS = {
    "a path of one machine": r"(?<![\w.-])/(work|root|home/\w+)/",
    "a package registry or a CDN": r"(py[p]i|python[h]osted|npm[j]s|js[d]elivr|un[p]kg|cdn[j]s)\.(org|com|net)",
    "a note to ourselves": r"\b(TO" + r"DO|FIX" + r"ME|X" + r"XX)\b",
    "a check switched off": r"pragma: no cov" + r"er|pytest\.mark\.xf" + r"ail|NotImplemented" + r"Error",
}


@pytest.mark.parametrize("what", NOT_OURS)
def test_no_tracked_file_holds(what):
    pattern = re.compile(NOT_OURS[what])
    found = [
        f"{path.relative_to(ROOT)}:{number}"
        for path in tracked_files()
        if path != Path(__file__).resolve()
        for number, line in enumerate(path.read_text(errors="replace").splitlines(), 1)
        if pattern.search(line)
    ]
    assert found == []


def test_only_the_demonstration_pretends_another_time():
    pretenders = {module for module, path in MODULES.items() if re.search(r"\bpretending\b", path.read_text())}
    assert {module for module in pretenders if not module.startswith("anomalies.demo")} == {"anomalies.clock"}


def test_records_ask_one_clock():
    askers = {module for module, path in MODULES.items() if "timezone.now(" in path.read_text()}
    assert {module for module in askers if module.startswith("anomalies.services")} == set()
