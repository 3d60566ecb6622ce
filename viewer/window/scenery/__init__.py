"""What the window's room is made of, as layers: the room, its names, outlines, sections."""

from viewer.window.scenery import scenery
from viewer.window.scenery.bassfloor import bass_floor, bass_shape
from viewer.window.scenery.difference import differences
from viewer.window.scenery.facelight import face_planes, lit
from viewer.window.scenery.fronts import Fronts, front_speaker
from viewer.window.scenery.heardpaths import heard_paths
from viewer.window.scenery.marks import marks
from viewer.window.scenery.names import Name, PlacedName, find_names, joined, lines_of, place_names
from viewer.window.scenery.scanlayers import scan_layers, scan_names
from viewer.window.scenery.scenery import main_rows
from viewer.window.scenery.section import (
    UNCUT,
    WALL_M,
    CutGrip,
    Plane,
    cut_at,
    cut_faces,
    cut_words,
    nearer_half,
    plane_of,
    pulled_cut,
    without,
)

__all__ = [
    "UNCUT",
    "WALL_M",
    "CutGrip",
    "Fronts",
    "Name",
    "PlacedName",
    "Plane",
    "bass_floor",
    "bass_shape",
    "cut_at",
    "cut_faces",
    "cut_words",
    "differences",
    "face_planes",
    "find_names",
    "front_speaker",
    "heard_paths",
    "joined",
    "lines_of",
    "lit",
    "main_rows",
    "marks",
    "nearer_half",
    "place_names",
    "plane_of",
    "pulled_cut",
    "scan_layers",
    "scan_names",
    "scenery",
    "without",
]
