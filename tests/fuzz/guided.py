"""Fuzzing led by what readers of files have run through: OBJ texts, meshes, sound files, floor plans.

    python -m tests.fuzz.guided obj|mesh|sound|plan FOLDER -max_total_time=600 [options of libFuzzer]

FOLDER keeps the cases that reached something new. It needs atheris (Apache-2.0) beside the project, which
nothing else here uses. A traceback, more than 10 s or 1 GB end it, and the case is kept as a file.
"""

import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["raytrace.room", "raytrace.scan", "raytrace.measured.recordings"]):
    from raytrace.measured import RecordingError, read_recording
    from raytrace.room import MeshError, read_raw
    from raytrace.room.objtext import parse_obj
    from raytrace.scan import PlanSettings, read_floorplan

from tests.fuzz.campaigns import sounds
from tests.fuzz.meshfiles import MESH
from tests.raytrace.scan.test_floorplan import ELBOW, drawn

PLACE = Path(tempfile.mkdtemp())


def obj(content):
    """A text of an OBJ, already decoded."""
    parse_obj(content.decode("latin-1"), file="case.obj", unnamed="mesh")


def mesh(content):
    """A mesh file: the first byte chooses what it is called."""
    suffix = ("obj", "glb", "gltf", "stl", "ply")[content[0] % 5] if content else "obj"
    path = PLACE / f"case.{suffix}"
    path.write_bytes(content[1:])
    read_raw(path).triangles()


def sound(content):
    """A sound file."""
    path = PLACE / "case.wav"
    path.write_bytes(content)
    read_recording(path, channel=1)


def plan(content):
    """A floor plan."""
    path = PLACE / "case.dxf"
    path.write_bytes(content)
    read_floorplan(path, PlanSettings(height_m=2.4))


READERS = {"obj": obj, "mesh": mesh, "sound": sound, "plan": plan}


def seeds(kind, folder):
    """Whole files to begin with."""
    folder.mkdir(parents=True, exist_ok=True)
    if kind == "sound":
        for name, content in sounds().items():
            (folder / name).write_bytes(content[:4000])
    elif kind == "plan":
        drawn(folder / "plan", ELBOW)
    else:
        (folder / "half-slope").write_bytes((b"\0" if kind == "mesh" else b"") + MESH.encode())


def main():
    """Hand one reader to the fuzzer."""
    kind, folder, *options = sys.argv[1:]
    read = READERS[kind]
    seeds(kind, Path(folder))

    def case(content):
        try:
            read(content)
        except (MeshError, RecordingError) as problem:
            if not str(problem).strip():
                raise

    # What fails is kept beside the cases, not in the folder that this was started from.
    limits = ["-timeout=10", "-rss_limit_mb=1024", "-max_len=20000", f"-artifact_prefix={folder}/"]
    atheris.Setup([sys.argv[0], *limits, *options, folder], case)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
