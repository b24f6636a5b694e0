"""The house keeps its shape: floors, docstrings, sizes, words. Every check is also shown a fault that it must catch."""

from __future__ import annotations

import ast
import graphlib
import inspect
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from fitcheck import load_profile
from fitcheck.catalog.parts import FAMILIES
from fitcheck.engine import trains
from fitcheck.engine.columns import numeric_fields
from fitcheck.engine.equations import right_side
from fitcheck.engine.plan import Step
from fitcheck.engine.table import METRICS

ROOT = Path(__file__).resolve().parent.parent
TOP = (
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    ".gitignore",
    "fitcheck",
    "schemas",
    "catalogs",
    "tests",
    "ci",
    ".ci",
    ".pre-commit-hooks.yaml",
)
STDLIB_FOR_PHYSICS = ("__future__", "collections.abc", "dataclasses", "functools", "itertools", "math", "operator", "typing")
PHYSICS_MAY_IMPORT = (*STDLIB_FOR_PHYSICS, "numpy", "fitcheck.physics")
LONGEST_BODY, LONGEST_FILE = 60, 400

# Written so that no pattern finds itself.
FORBIDDEN = re.compile(
    r"/(roo[t]|wor[k]|hom[e]/\w+|Use[r]s/\w+|tm[p])/"  # paths of one machine
    r"|pypi[.]org|pythonhosted[.]org|npmjs[.]org|debian[.]org"
    r"|\b(TOD[O]|FIXM[E]|XX[X]|NotImplemented[E]rror|transcrip[t]s?|youtub[e])\b|mark[.]ski[p]|xfai[l]"
    r"|the handboo[k]\b|design[.]md|engine[.]md|libraries[.]md|exemplars[.]md|CONTRACT[.]md|\bissue #?\d",
    re.IGNORECASE,
)


def package_files() -> list[Path]:
    return sorted((ROOT / "fitcheck").rglob("*.py"))


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {module_name(path): path for path in package_files()}
TREES = {name: ast.parse(path.read_text(encoding="utf-8")) for name, path in MODULES.items()}
PHYSICS = {name: tree for name, tree in TREES.items() if name.startswith("fitcheck.physics")}


# Floors.


def floors() -> list[tuple[str, int]]:
    """The table of floors in DEVELOPERS.md, as (module or room, floor): the document is the one place where they stand."""
    rows = re.findall(r"^\| (\d) \| (.+?) \|", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), re.MULTILINE)
    return [(room, int(floor)) for floor, rooms in rows for room in re.findall(r"`([\w/.]+)`", rooms)]


def floor_of(module: str, path: Path) -> int:
    """The floor of a module by its own file name, or by the room that it stands in."""
    inside = path.relative_to(ROOT / "fitcheck").as_posix()
    found = [floor for room, floor in floors() if inside == room or (room.endswith("/") and inside.startswith(room))]
    assert len(found) == 1, f"{module} stands on {len(found)} floors of the table in DEVELOPERS.md; it must stand on one"
    return found[0]


def imports_of(tree: ast.AST, module: str, is_package: bool = False) -> Iterator[str]:
    """Every name that a module imports, wherever the import stands: at the top, in a function, for types only, or by string."""
    package = module.split(".") if is_package else module.split(".")[:-1]
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            stem = ".".join([*base, *([node.module] if node.module else [])])
            yield from (f"{stem}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Call) and ast.unparse(node.func).endswith(("import_module", "__import__")):
            yield from (word.value for word in node.args if isinstance(word, ast.Constant) and isinstance(word.value, str))


def own_module(name: str) -> str | None:
    """The module of the package that an imported name leads to: itself, or the module that holds it."""
    while name:
        if name in MODULES:
            return name
        name = name.rpartition(".")[0]
    return None


def own_imports(module: str) -> set[str]:
    names = imports_of(TREES[module], module, MODULES[module].name == "__init__.py")
    return {found for found in map(own_module, names) if found and found != module}


GRAPH = {module: own_imports(module) for module in MODULES}


def test_every_module_imports_only_from_its_floor_or_below() -> None:
    climbing = [
        f"{module} imports {other}"
        for module, path in MODULES.items()
        for other in GRAPH[module]
        if floor_of(other, MODULES[other]) > floor_of(module, path)
    ]
    assert not climbing


def test_every_room_of_the_table_is_there() -> None:
    assert len(floors()) > 10
    missing = [room for room, _ in floors() if not (ROOT / "fitcheck" / room).exists()]
    assert not missing


def test_no_module_imports_itself_by_a_detour() -> None:
    graphlib.TopologicalSorter(GRAPH).prepare()


def test_physics_imports_only_numpy_and_mathematics() -> None:
    allowed = tuple(f"{name}." for name in PHYSICS_MAY_IMPORT)
    foreign = [
        f"{module} imports {name}"
        for module, tree in PHYSICS.items()
        for name in imports_of(tree, module, MODULES[module].name == "__init__.py")
        if not f"{name}.".startswith(allowed)
    ]
    assert not foreign


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("import fitcheck.cli", "fitcheck.cli"),
        ("def f():\n    from fitcheck.engine import plan", "fitcheck.engine.plan"),
        ("from .. import report", "fitcheck.report"),
        ("from .curves import follow", "fitcheck.physics.curves.follow"),
        ("import importlib\nimportlib.import_module('fitcheck.cli')", "fitcheck.cli"),
    ],
)
def test_imports_are_found_wherever_they_stand(source: str, expected: str) -> None:
    assert expected in imports_of(ast.parse(source), "fitcheck.physics.demand")


# Docstrings.


def functions(tree: ast.AST) -> list[ast.FunctionDef]:
    return [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]


def public_functions(room: ast.Module | ast.ClassDef) -> list[ast.FunctionDef]:
    """The functions of a module, or methods of a class, that are open to others; not functions inside functions."""
    return [node for node in room.body if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")]


def public_methods(tree: ast.Module) -> list[ast.FunctionDef]:
    return [method for node in tree.body if isinstance(node, ast.ClassDef) for method in public_functions(node)]


def sections(docstring: str) -> dict[str, str]:
    """The underlined sections of a numpy-style docstring."""
    pieces = re.split(r"^(\w+)\n-{3,}\n", docstring, flags=re.MULTILINE)
    return dict(zip(pieces[1::2], pieces[2::2], strict=True))


def entries(section: str) -> list[tuple[str, str]]:
    """The (name, text) pairs of a section: a heading stands at the margin, `a, b : array` names two, its text is indented."""
    blocks = re.findall(r"^(\S.*)\n((?:[ \t]+.*\n?|\n(?=[ \t]))*)", section + "\n", re.MULTILINE)
    return [(name.strip(), heading + "\n" + text) for heading, text in blocks for name in heading.split(" : ")[0].split(",")]


def contract_faults(function: ast.FunctionDef) -> list[str]:
    """What a physics function's docstring lacks: parameters in order with units, returns with a unit, raises, a source."""
    docstring = ast.get_docstring(function) or ""
    found = sections(docstring)
    arguments = [a.arg for a in (*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs)]
    described = entries(found.get("Parameters", ""))
    faults = []
    if [name for name, _ in described] != arguments:
        faults.append(f"parameters {[name for name, _ in described]} are not the signature's {arguments}")
    faults += [f"no [unit] for {name}" for name, text in described if not re.search(r"\[[^\]]+\]", text)]
    if not re.search(r"\[[^\]]+\]", found.get("Returns", "")):
        faults.append("no Returns with a [unit]")
    if any(isinstance(node, ast.Raise) for node in ast.walk(function)) and "Raises" not in found:
        faults.append("no Raises")
    if not re.search(r"^Source: \S", docstring, re.MULTILINE):
        faults.append("no Source")
    return faults


def test_every_public_function_says_what_it_is_for() -> None:
    open_to_others = [(name, f) for name, tree in TREES.items() for f in (*public_functions(tree), *public_methods(tree))]
    silent = [f"{module}.{function.name}" for module, function in open_to_others if not ast.get_docstring(function)]
    assert not silent


def test_every_physics_function_keeps_the_docstring_contract() -> None:
    checked = [(module, function) for module, tree in PHYSICS.items() for function in public_functions(tree)]
    assert checked
    faults = [f"{module}.{f.name}: {fault}" for module, f in checked for fault in contract_faults(f)]
    assert not faults


GOOD = '''
def area(bore, count):
    """Area.

    Parameters
    ----------
    bore : array
        [m] diameter.
    count : array
        [-] how many.

    Returns
    -------
    array
        [m2] area.

    Source: circle, elementary.
    """
'''


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("", "", None),
        ("[m] ", "", "no [unit] for bore"),
        ("    bore : array\n        [m] diameter.\n", "", "parameters ['count'] are not the signature's ['bore', 'count']"),
        ("bore, count", "count, bore", "parameters ['bore', 'count'] are not the signature's ['count', 'bore']"),
        ("[m2] ", "", "no Returns with a [unit]"),
        ("Source: circle, elementary.", "Source:", "no Source"),
        ('elementary.\n    """', 'elementary.\n    """\n    raise ValueError', "no Raises"),
    ],
)
def test_the_docstring_contract_catches_what_is_left_out(old: str, new: str, fault: str | None) -> None:
    function = functions(ast.parse(GOOD.replace(old, new) if old else GOOD))[0]
    assert contract_faults(function) == ([fault] if fault else [])


# The plan of metrics is closed: nothing promised is missing, nothing written is unused.

KINDS = [("external", rest, cover) for rest in ("contact", "bottomed") for cover in ("curve", "diaphragm")]
KINDS += [("concentric", "contact", cover) for cover in ("curve", "diaphragm")]
SUMS = {"cost", "mass"}  # sums over the parts supplied, which the plan of physics does not make

# Numbers of a catalog that reach the plan under a name of another kind, and the one that no equation asks for.
RENAMED = {"application_fork_return_force", "application_hours_slave", "application_hours_gearbox", "pressure_plate_lever_ratio"}
ONLY_KEPT = {"fluid_dry_boil"}


def plans() -> list[dict[str, Callable[..., object]]]:
    return [trains.functions(*kind) for kind in KINDS]


@pytest.mark.parametrize("kind", KINDS)
def test_every_metric_of_a_train_is_given_by_its_plan(kind: tuple[str, str, str]) -> None:
    promised = {name for name, metric in METRICS.items() if metric.exists(*kind[:2])} - SUMS
    if kind[2] == "diaphragm":
        promised -= {"lever_check"}
    assert promised <= trains.functions(*kind).keys()


def test_every_quantity_of_physics_serves_a_metric() -> None:
    used = {function for plan in plans() for function in plan.values()}
    written = {getattr(module, name): f"{module.__name__}.{name}" for module in trains.MODULES for name in module.__all__}
    idle = [name for function, name in written.items() if function not in used]
    assert not idle


def test_every_room_of_physics_is_entered() -> None:
    entered = {module for name in GRAPH.keys() - PHYSICS.keys() for module in GRAPH[name]}
    for _ in PHYSICS:
        entered |= {module for name in entered for module in GRAPH[name]}
    assert entered >= PHYSICS.keys() - {"fitcheck.physics"}


def test_every_number_of_a_catalog_is_asked_for() -> None:
    """By an equation (under its own name, or as the slave, bearing or cover that it stands for), by a fit, or in a sum."""
    asked = {name for plan in plans() for function in plan.values() for name in inspect.signature(function).parameters}
    asked |= {field.replace(".", "_") for fit in load_profile().fits for field in fit.fields} | RENAMED | ONLY_KEPT
    given = ["_".join((family, *path)) for family in FAMILIES for path in numeric_fields(family) if path[-1] not in SUMS]
    short = {name: re.sub("^(concentric|pressure_plate)_", "", name) for name in given}
    assert not [name for name in given if not {name, short[name], f"slave_{short[name]}", f"bearing_{short[name]}"} & asked]


# Every quantity has an equation that a person can read.

LONGEST_EQUATION = 160

# Inputs that an equation need not name: what only lends its shape, and what is met under another name where it counts.
NOT_NAMED = {
    "no_lash": {"piston_area"},
    "no_extension": {"piston_area"},
    "hydraulics_bled": {"ambient_pressure"},
    "kinked_spring_worn": {"kinked_spring", "spring"},
    "way_worn": {"kinked_spring", "way"},
    "way_worn_bled": {"kinked_spring", "way_bled"},
    "full_worn": {"full", "way"},
    "full_worn_bled": {"full_bled", "way_bled"},
    "effort_peak": {"way_bled"},
}


def steps() -> list[Step]:
    functions = {(name, function) for plan in plans() for name, function in plan.items()}
    return [Step(name, function, tuple(inspect.signature(function).parameters)) for name, function in sorted(functions, key=str)]


def equation_faults(step: Step) -> list[str]:
    """What is wrong with what a tree of numbers prints of a quantity."""
    right = right_side(step.function)
    faults = [f"no Equation: in its docstring, and its code is no plain arithmetic {step.function.__name__}"] if not right else []
    if len(step.equation) > LONGEST_EQUATION or "\n" in step.equation:
        faults.append(f"an equation of {len(step.equation)} characters")
    silent = set(step.inputs) - set(step.heeded) - NOT_NAMED.get(step.function.__name__, set())
    faults += [f"an equation that does not name {name}" for name in sorted(silent)] if right else []
    return faults + ([] if step.unit else ["no unit"])


def test_every_quantity_has_a_short_equation_that_names_its_inputs_and_a_unit() -> None:
    assert len(steps()) > 140
    faults = [f"{step.name}: {fault}" for step in steps() for fault in equation_faults(step)]
    assert not faults


def opaque(x: float, y: float) -> float:
    """Nothing to read."""
    return sum(divmod(x, y))


def silent_on_y(x: float, y: float) -> float:
    """Nothing of y.

    Equation: twice x

    Returns
    -------
    float
        [m] length.
    """
    return 2.0 * x + 0.0 * y


def test_an_equation_that_is_missing_or_silent_is_found() -> None:
    assert equation_faults(Step("z", opaque, ("x", "y")))[0].startswith("no Equation:")
    assert equation_faults(Step("z", silent_on_y, ("x", "y"))) == ["an equation that does not name y"]
    assert equation_faults(Step("z" * 170, silent_on_y, ("x",)))[0].startswith("an equation of 1")


# Sizes.


def body_length(function: ast.FunctionDef) -> int:
    """Lines of a function's body without its docstring."""
    body = function.body[1:] if ast.get_docstring(function) is not None else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def test_no_function_and_no_file_is_too_long() -> None:
    paths = [*package_files(), *sorted((ROOT / "ci").glob("*.py"))]
    texts = {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in paths}
    long = [f"{name}: {text.count(chr(10))} lines" for name, text in texts.items() if text.count("\n") > LONGEST_FILE]
    long += [
        f"{name}: {function.name} has {body_length(function)} lines"
        for name, text in texts.items()
        for function in functions(ast.parse(text))
        if body_length(function) > LONGEST_BODY
    ]
    assert not long


def test_a_body_is_measured_without_its_docstring() -> None:
    assert body_length(functions(ast.parse('def f():\n    """One.\n\n    Two.\n    """\n    x = 1\n    return x'))[0]) == 2


# Words and bytes.


def committed_files() -> list[Path]:
    """The files that belong to the project, told by where they lie: the same in a checkout and in an unpacked archive."""
    tops = [ROOT / name for name in TOP if (ROOT / name).exists()]
    inside = [path for top in tops for path in ([top] if top.is_file() else sorted(top.rglob("*")))]
    return [path for path in inside if path.is_file() and "__pycache__" not in path.parts and path.suffix != ".pyc"]


def test_nothing_committed_names_a_machine_or_leaves_work_undone() -> None:
    found = [
        f"{path.relative_to(ROOT).as_posix()}:{number}: {match.group()}"
        for path in committed_files()
        for number, line in enumerate(path.read_bytes().decode("utf-8", "replace").splitlines(), 1)
        if (match := FORBIDDEN.search(line))
    ]
    assert not found


@pytest.mark.parametrize("line", ["see /roo" + "t/x", "# TO" + "DO later", "pytest.mark.sk" + "ip", "as the hand" + "book says"])
def test_forbidden_words_are_found(line: str) -> None:
    assert FORBIDDEN.search(line)


def test_every_file_is_utf8_with_plain_line_ends() -> None:
    """Samples of bad input under tests may break this on purpose; nothing else may."""
    for path in committed_files():
        if path.suffix == ".toml" and "tests" in path.parts:
            continue
        content = path.read_bytes()
        content.decode("utf-8")
        assert b"\r" not in content, path
        assert not content.startswith(b"\xef\xbb\xbf"), path
        assert not content or content.endswith(b"\n"), path


# Start-up.


def test_checking_files_never_loads_what_only_results_need() -> None:
    """Loading pandas takes longer than checking a catalog; it must stay off that way."""
    code = "import sys, fitcheck.cli, fitcheck.gates.check; print(*(m for m in ('pandas', 'jinja2') if m in sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.split() == []
