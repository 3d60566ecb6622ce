"""Data flows one way: DEVELOPERS.md lists the packages, each imports only faces of those above it."""

import ast
import importlib
import re
import subprocess
import sys
from functools import cache

import pytest

import raytrace
from tests.support.scenes import ROOT

#: A line of the list: a package ("scene/"), or a file of the package named last.
LINE = re.compile(r"( *)([\w/]+?)(/|\.py) ")


def listed():
    """Packages and single files in the order of the list in DEVELOPERS.md, and the files that it names."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    block = re.search(r"## Data flow\n.*?```\n(.*?)```", text, re.DOTALL)
    assert block, "DEVELOPERS.md has lost its data-flow list"
    order, files, top, package = [], set(), "", ""
    for line in block[1].splitlines():
        match = LINE.match(line)
        assert match, f"neither a package nor a file: {line}"
        indent, name, kind = match.groups()
        if kind == "/":
            package = name.replace("/", ".") if not indent else f"{top}.{name.replace('/', '.')}"
            top = package if not indent else top
            if indent:
                order.append(package)
        else:
            is_top = len(indent) == 2
            file = f"{top if is_top else package}.{name}"
            assert file not in files, f"listed twice: {line}"
            files.add(file)
            order += [file] if is_top else []
    return order, files


ORDER, FILES = listed()
MODULES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
    for top in ("raytrace", "viewer")
    for path in sorted((ROOT / top).rglob("*.py"))
}
PACKAGES = {name for name, path in MODULES.items() if path.name == "__init__.py"}


def package_of(module):
    """The package whose file a module is; a face and a single file at the top are packages of their own."""
    return module if module in PACKAGES or module in ORDER else module.rpartition(".")[0]


@cache
def tree_of(path):
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def imported(path):
    """Modules that a file imports anywhere in it: for `from a import b` a.b where that is one, else a."""
    found = []
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            names = [f"{node.module}.{alias.name}" for alias in node.names]
            found += [full if full in ORDER else node.module for full in names]
    return found


def reaches_past(target, package):
    """Whether an import from outside its package names a file instead of the face."""
    owner = package_of(target)
    # Kernels are taken file by file: a face would load all of them with the first.
    return target in MODULES and target != owner and owner not in (package, "raytrace.kernels")


def test_every_path_that_the_map_names_is_there():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    words = re.findall(r"`([^`\s]+)`", text)
    paths = {word for word in words if re.search(r"/$|\.(py|toml|typ|md|js)$", word)}
    places = (
        ROOT,
        *(ROOT / name for name in ("raytrace", "viewer", "tests/bench", "viewer/report", "viewer/window")),
    )
    missing = {path for path in paths if not any(list(place.glob(path)) for place in places)}
    assert len(paths) > 20  # the lists of what to touch name at least so many
    assert not missing


def test_every_file_is_in_the_list_and_every_line_is_a_file():
    quiet = PACKAGES | {name for name in MODULES if name.endswith(".__main__")}
    assert set(MODULES) - quiet - {n for n in MODULES if n.startswith("raytrace.kernels.")} == FILES
    assert {name for name in ORDER if name not in FILES} == PACKAGES - {"raytrace", "viewer"}


@pytest.mark.parametrize("name", [n for n in MODULES if n not in ("raytrace", "viewer")])
def test_a_package_imports_only_faces_from_above(name):
    package = package_of(name)
    for target in imported(MODULES[name]):
        if target.split(".")[0] not in ("raytrace", "viewer"):
            continue
        owner = package_of(target)
        if name.startswith("viewer.") and target.startswith("raytrace"):
            assert target == "raytrace", f"{name} reaches past raytrace/__init__.py for {target}"
            continue
        assert not reaches_past(target, package), f"{name} reaches past the face of {owner} for {target}"
        assert ORDER.index(owner) <= ORDER.index(package), f"{name} imports {target} from below"


@pytest.mark.parametrize("path", sorted((ROOT / "tests").rglob("test_*.py")), ids=lambda p: p.stem)
def test_a_test_looks_only_into_the_package_that_it_mirrors(path):
    mirrored = ".".join(path.parent.relative_to(ROOT / "tests").parts)
    for target in imported(path):
        past = target.startswith(("raytrace.", "viewer.")) and reaches_past(target, mirrored)
        assert not past, f"{path} reaches past the face of {package_of(target)} for {target}"


#: Methods of named tuples and of the operating system that begin with a stroke are public.
OPEN = {"_replace", "_asdict", "_fields", "_exit"}


def private_names(tree):
    """What a test takes of others' inside: imports, attributes but of itself, and names that it patches."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module.startswith(("raytrace", "viewer", "tests")):
            yield from (alias.name for alias in node.names if alias.name.startswith("_"))
        elif isinstance(node, ast.Attribute) and re.match(r"_[a-z]", node.attr):
            if getattr(node.value, "id", "") not in ("self", "cls") and node.attr not in OPEN:
                yield node.attr
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", "") == "setattr":
            texts = (arg.value for arg in node.args[:2] if isinstance(arg, ast.Constant))
            yield from (text for text in texts if re.search(r"(^|\.)_[a-z]", str(text)))


def test_a_test_asks_for_nothing_private():
    found = {path.name: set(private_names(tree_of(path))) for path in sorted((ROOT / "tests").rglob("*.py"))}
    assert not {name: names for name, names in found.items() if names}


def test_what_is_private_is_noticed():
    text = "from raytrace.room import _x\na._y\nself._z\nsome.setattr('raytrace.room._u', 1)\nb._replace()"
    assert list(private_names(ast.parse(text))) == ["_x", "_y", "raytrace.room._u"]


#: Faces that load what they export when it is asked for.
LATE = {name for name in PACKAGES if "= late_face(" in MODULES[name].read_text(encoding="utf-8")}


def test_all_of_the_numbers_and_all_words_and_tables_load_late():
    numbers = {name for name in PACKAGES if name.startswith("raytrace")} - {"raytrace.kernels"}
    assert numbers | {"viewer.words", "viewer.tables"} <= LATE


@pytest.mark.parametrize("name", sorted(PACKAGES - {"raytrace.kernels", "viewer"} - LATE))
def test_a_face_exports_exactly_what_it_names(name):
    face = importlib.import_module(name)
    private = {n for n in vars(face) if n.startswith("_")} | {"annotations"}
    own = {n.rpartition(".")[2] for n in MODULES if n.startswith(f"{name}.")}
    assert set(vars(face)) - private - own == set(face.__all__) - own
    assert len(face.__all__) == len(set(face.__all__))


#: What a late face has from its start.
OWN = {"raytrace": ("late_face",)}


@pytest.mark.parametrize("name", sorted(LATE))
def test_a_late_face_gives_what_type_checkers_read_in_it(name):
    face = importlib.import_module(name)
    tree = ast.parse(MODULES[name].read_text(encoding="utf-8"))
    promised = {
        alias.name: getattr(importlib.import_module(node.module), alias.name)
        for block in tree.body
        if isinstance(block, ast.If)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert sorted({*promised, *OWN.get(name, ())}) == sorted(face.__all__) == dir(face)
    assert all(getattr(face, key) is value for key, value in promised.items())
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = face.nothing


def test_a_public_name_explains_itself():
    for name in raytrace.__all__:
        assert getattr(raytrace, name).__doc__ or isinstance(getattr(raytrace, name), (tuple, dict))


@pytest.mark.parametrize("path", sorted((ROOT / "raytrace").rglob("*.py")), ids=lambda p: p.stem)
def test_numbers_know_no_pictures(path):
    banned = {"pyvista", "vtk", "vtkmodules", "matplotlib", "PySide6", "viewer", "rich", "cyclopts"}
    assert not {name.split(".")[0] for name in imported(path)} & banned


def test_numba_stays_in_the_kernels():
    outside = [path for name, path in MODULES.items() if not name.startswith("raytrace.kernels")]
    assert not [path for path in outside if "numba" in {n.split(".")[0] for n in imported(path)}]


def test_the_arrivals_of_a_box_need_no_heavy_library_and_no_late_package():
    # numba itself imports scipy's top for its version; nothing else may, and nothing below it.
    kernel = "import sys, numba; print(*sorted(m for m in sys.modules if m.startswith('scipy')), sep=',')"
    command = (
        "import sys, io; out, sys.stdout = sys.stdout, io.StringIO(); "
        "from viewer.cli import run; words = ['arrivals', 'scenes/box.toml']; "
        "code = run(words) or run([*words, '--json']); sys.stdout = out; "
        "heavy = ('scipy', 'trimesh', 'pyvista', 'vtk', 'matplotlib'); "
        "late = ('raytrace.decay', 'raytrace.proposing', 'raytrace.bass', 'raytrace.measured', "
        "'raytrace.scan', 'raytrace.making.treatment', 'raytrace.aiming', 'viewer.tables.making', "
        "'viewer.words.measured'); "
        "found = (m for m in sys.modules if m.startswith(late) or m.split('.')[0] in heavy); "
        "print(*sorted(found), sep=','); sys.exit(code)"
    )
    loaded = []
    for code in (kernel, command):
        done = subprocess.run(
            [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
        )
        loaded.append(set(done.stdout.strip().split(",")))
    assert loaded[1] <= loaded[0], loaded[1] - loaded[0]


#: A report of a room as it stands, up to its page: charts and sheets are drawn, pictures are left out.
REPORT = """
import sys, viewer.page, viewer.pictures, viewer.report.report, viewer.words
from functools import partial
from raytrace import Sampling, find_decay, load_scene, run_study
viewer.report.report.find_decay = partial(find_decay, sampling=Sampling(64))
viewer.words.did_it_work
viewer.pictures.draw_stills = lambda *_given, **_options: ()
def stop(text, _share):
    if text == "page.html":
        raise KeyboardInterrupt
try:
    viewer.report.write_report(
        run_study(load_scene("scenes/box.toml"), up_to_order=1), sys.argv[1], progress=stop
    )
except KeyboardInterrupt:
    late = ("raytrace.proposing.", "raytrace.bass.", "raytrace.measured.", "scipy.linalg", "pyvista")
    print("stopped", *(m for m in sys.modules if m.startswith(late)))
"""


def test_documents_of_a_room_as_it_stands_load_neither_plans_nor_measurements(tmp_path):
    command = [sys.executable, "-c", REPORT, str(tmp_path / "out")]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["stopped"]
