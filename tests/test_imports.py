"""Data flows one way: DEVELOPERS.md lists the files in order, and each imports only from above."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

import raytrace

ROOT = Path(raytrace.__file__).parent.parent


def listed_order():
    """File names of the data-flow list in DEVELOPERS.md, top first."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    block = re.search(r"## Data flow\n.*?```\n(.*?)```", text, re.DOTALL)
    assert block, "DEVELOPERS.md has lost its data-flow list"
    order, package = [], ""
    for line in block[1].splitlines():
        name = line.split()[0]
        if name in ("raytrace/", "viewer/"):
            package = name.rstrip("/")
        elif name == "kernels/":
            order.append("raytrace.kernels")
        elif name == "__init__.py":
            order.append(package)
        else:
            order.append(f"{package}.{name.removesuffix('.py')}")
    return order


def modules():
    """{dotted name: path} of every source file; kernels as one."""
    found = {}
    for path in sorted([*ROOT.glob("raytrace/*.py"), *ROOT.glob("viewer/*.py")]):
        dotted = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        found[dotted] = path
    return found


def imported(path):
    """Dotted names that a file imports, anywhere in it; `from a import b` gives a and a.b."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def own(name, order):
    """The listed module an import belongs to, None for other people's."""
    if name.startswith("raytrace.kernels"):
        return "raytrace.kernels"
    while name:
        if name in order:
            return name
        name = name.rpartition(".")[0]
    return None


def test_every_file_is_in_the_list_and_every_line_is_a_file():
    files = set(modules()) | {"raytrace.kernels"}
    assert files - {"viewer"} == set(listed_order())


@pytest.mark.parametrize("name", [n for n in modules() if n not in ("raytrace", "viewer")])
def test_a_file_imports_only_from_above(name):
    order = listed_order()
    for target in imported(modules()[name]):
        module = own(target, order)
        if module is None or module == name:
            continue
        if name.startswith("viewer.") and module.startswith("raytrace"):
            assert module == "raytrace", f"{name} reaches past raytrace/__init__.py for {target}"
        elif module == "raytrace" and not name.startswith("viewer."):
            continue  # `from raytrace import x` names the package, its modules are checked one by one
        assert order.index(module) < order.index(name), f"{name} imports {target} from below"


@pytest.mark.parametrize("path", sorted(ROOT.glob("raytrace/**/*.py")), ids=lambda p: p.stem)
def test_numbers_know_no_pictures(path):
    banned = {
        "pyvista",
        "vtk",
        "vtkmodules",
        "matplotlib",
        "PySide6",
        "viewer",
        "rich",
        "cyclopts",
    }
    assert not {name.split(".")[0] for name in imported(path)} & banned


@pytest.mark.parametrize("path", sorted(ROOT.glob("raytrace/*.py")), ids=lambda p: p.stem)
def test_numba_stays_in_the_kernels(path):
    assert "numba" not in {name.split(".")[0] for name in imported(path)}


def test_exactly_the_public_names_are_exported():
    public = {n for n in vars(raytrace) if not n.startswith("_")} - set(sys.modules)
    submodules = {n.rpartition(".")[2] for n in modules()} | {"kernels"}
    assert public - submodules == set(raytrace.__all__)
    for name in raytrace.__all__:
        assert getattr(raytrace, name).__doc__ or isinstance(getattr(raytrace, name), (tuple, dict))


def test_the_arrivals_of_a_box_need_no_heavy_library():
    # numba itself imports scipy's top for its version; nothing else may, and nothing below it.
    kernel = "import sys, numba; print(*sorted(m for m in sys.modules if m.startswith('scipy')), sep=',')"
    command = (
        "import sys, io; out, sys.stdout = sys.stdout, io.StringIO(); "
        "from viewer.cli import run; code = run(['arrivals', 'scenes/box.toml', '--json']); "
        "sys.stdout = out; heavy = ('scipy', 'trimesh', 'pyvista', 'vtk', 'matplotlib'); "
        "print(*sorted(m for m in sys.modules if m.split('.')[0] in heavy), sep=','); sys.exit(code)"
    )
    loaded = []
    for code in (kernel, command):
        done = subprocess.run(
            [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
        )
        loaded.append(set(done.stdout.strip().split(",")))
    assert loaded[1] <= loaded[0], loaded[1] - loaded[0]
