"""The shape of the program: who may import whom, where third-party packages live, how long a module
may be."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from conftest import ROOT, python

PACKAGE = ROOT / "livecheck"
MODULES = sorted(PACKAGE.rglob("*.py"))

LADDER = {
    "errors": 0,
    "core": 1,
    "measures": 2,
    "session": 3,
    "files": 4,
    "control": 5,
    "report": 6,
    "daemon": 7,
    "console": 7,
    "player": 7,
    "commands": 8,
    "cli": 9,
    "__main__": 10,
}
"""Left to right: a module imports from its own part and from those with a smaller number."""

SHARED = {("player/feed.py", "daemon.frames")}
"""The built-in player's child process speaks the pipe protocol of the reader's child process."""

HOMES = {
    "rtmidi": "daemon/drivers.py",
    "rtmidi2": "daemon/drivers.py",
    "mido": "files/midifile.py",
    "yaml": "files/config.py",
    "rich": "console/",
    "numpy": ("measures/", "daemon/sound_out.py"),
    "sounddevice": "daemon/sound_out.py",
    "argcomplete": "commands/completion.py",
}
PURE = ("core/", "measures/", "session.py")
WORLD = {
    "time",
    "datetime",
    "os",
    "io",
    "pathlib",
    "threading",
    "subprocess",
    "socket",
    "random",
    *HOMES,
} - {"numpy"}
LONGEST = 400


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    return tuple(ast.walk(tree(path)))


def name_of(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def imports(path: Path) -> Iterator[str]:
    """Full names of everything that a module imports, wherever in it the import stands."""
    package = ["livecheck", *path.relative_to(PACKAGE).parts[:-1]]
    for node in nodes(path):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            full = ".".join([*base, *([node.module] if node.module else [])])
            yield full
            if (node.level and not node.module) or full == "livecheck":
                yield from (f"{full}.{alias.name}" for alias in node.names)


def part_of(module: str) -> str | None:
    """The rung of one of our modules; None for the package itself, its version, and other
    packages."""
    words = module.split(".")
    return words[1] if words[0] == "livecheck" and len(words) > 1 and words[1] in LADDER else None


def test_imports_go_one_way():
    """A module reaches its own part and what stands before it on the ladder, never back up or
    across."""
    wrong = []
    for path in MODULES:
        own = path.relative_to(PACKAGE).with_suffix("").parts[0]
        for module in imports(path):
            part = part_of(module)
            if (
                part is None
                or part == own
                or (name_of(path), module.removeprefix("livecheck.")) in SHARED
            ):
                continue
            if LADDER[part] >= LADDER.get(own, 0):
                wrong.append(f"{name_of(path)} imports {module}")
    assert wrong == []


def test_no_modules_import_each_other_in_a_circle():
    """Wherever in them the imports stand: what a module needs can be read without what needs it."""
    names = {".".join(path.relative_to(ROOT).with_suffix("").parts): path for path in MODULES}
    names = {name.removesuffix(".__init__"): path for name, path in names.items()}
    needs = {name: _needs(path, set(names)) - {name} for name, path in names.items()}
    while free := {name for name, others in needs.items() if not others & set(needs)}:
        needs = {name: others for name, others in needs.items() if name not in free}
    assert sorted(needs) == []


def _needs(path: Path, names: set[str]) -> set[str]:
    """The modules of ours that one imports: of ``from . import a`` that is a, of a name in a
    module the module."""
    package = ["livecheck", *path.relative_to(PACKAGE).parts[:-1]]
    found = set()
    for node in nodes(path):
        if isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            full = ".".join([*base, *([node.module] if node.module else [])])
            for alias in node.names:
                found.add(inner if (inner := f"{full}.{alias.name}") in names else full)
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found & names


def test_what_was_typed_ends_at_the_edge():
    """The parsed arguments reach a command's own function and what makes a typed choice of them,
    nothing below; nobody forges them."""
    wrong = []
    for path in (path for path in MODULES if name_of(path).startswith("commands/")):
        for node in nodes(path):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "Namespace":
                wrong.append(f"{name_of(path)}:{node.lineno}: makes a Namespace")
            if isinstance(node, ast.FunctionDef) and not re.match(
                r"run_|of$|_client$|__call__$", node.name
            ):
                kinds = [ast.unparse(arg.annotation or arg) for arg in node.args.args]
                if "Namespace" in kinds:
                    wrong.append(f"{name_of(path)}: {node.name} takes a Namespace")
    assert wrong == []


def test_each_third_party_package_has_one_home():
    """So that it can be replaced, and so that starting stays quick."""
    wrong = []
    for path in MODULES:
        for module in imports(path):
            home = HOMES.get(module.split(".")[0])
            if home is not None and not name_of(path).startswith(home):
                wrong.append(f"{name_of(path)} imports {module}")
    assert wrong == []


def test_judgment_cannot_reach_the_world():
    """core/, measures/ and session.py import nothing that reads a clock, a port, a file or a
    terminal."""
    pure = [path for path in MODULES if name_of(path).startswith(PURE)]
    assert len(pure) > 10
    assert [
        name_of(path) for path in pure if {module.split(".")[0] for module in imports(path)} & WORLD
    ] == []


def test_the_recorder_loads_no_judgment():
    """Neither directly nor through others: it stays small and hardly changes."""
    done = python("import sys, livecheck.daemon.service; print(*sys.modules)")
    assert done.returncode == 0, done.stderr
    loaded = {name for name in done.stdout.split() if name.startswith("livecheck.")}
    assert "livecheck.daemon.service" in loaded
    judgment = re.compile(r"livecheck\.(session|measures|console|core\.(match|reps|decode))")
    assert sorted(filter(judgment.match, loaded)) == []


def test_a_module_is_short_and_opens_with_what_it_owns():
    """At most 400 lines, the first of them a docstring."""
    texts = {name_of(path): path.read_text("utf-8") for path in MODULES}
    assert {
        name: text.count("\n") for name, text in texts.items() if text.count("\n") > LONGEST
    } == {}
    assert [
        name for name, text in texts.items() if not ast.get_docstring(tree(PACKAGE / name))
    ] == []


def test_every_test_says_what_is_true():
    """Each test function has a docstring."""
    silent = []
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        for node in nodes(path):
            if (
                isinstance(node, ast.FunctionDef)
                and node.name.startswith("test_")
                and not ast.get_docstring(node)
            ):
                silent.append(f"{path.name}: {node.name}")
    assert silent == []


def test_every_package_is_installed():
    """The list in pyproject.toml names each folder of modules, and the examples."""
    text = (ROOT / "pyproject.toml").read_text("utf-8")
    listed = re.search(r"^packages = \[\n(.*?)^\]", text, re.MULTILINE | re.DOTALL)
    assert listed is not None
    folders = {".".join(path.parent.relative_to(ROOT).parts) for path in MODULES}
    assert set(re.findall(r'"([\w.]+)"', listed[1])) == folders | {"livecheck.examples"}
