"""Where early reflections land in a small room: numbers only, no pictures."""

from raytrace.air import BAND_NAMES
from raytrace.arrivals import Arrivals, find_arrivals, speaker_axis, zone_points
from raytrace.comparison import ArrivalPair, Comparison, PeakPair, VerdictPair, compare, way_of, way_of_peak
from raytrace.criteria import Peak, Verdict
from raytrace.decay import Decay, find_decay
from raytrace.headlines import headline
from raytrace.patches import Patch
from raytrace.paths import Paths, find_paths
from raytrace.response import Curve
from raytrace.room import Room, build_room
from raytrace.scene import Scene, load_scene
from raytrace.sceneedit import move_in_text, place_of, set_in_text
from raytrace.scenefile import SceneError, read_scene_text
from raytrace.sketch import QUESTIONS, Question, sketch_scene
from raytrace.study import Study, run_study
from raytrace.units import format_length, parse_length

__all__ = [
    "BAND_NAMES",
    "QUESTIONS",
    "ArrivalPair",
    "Arrivals",
    "Comparison",
    "Curve",
    "Decay",
    "Patch",
    "Paths",
    "Peak",
    "PeakPair",
    "Question",
    "Room",
    "Scene",
    "SceneError",
    "Study",
    "Verdict",
    "VerdictPair",
    "build_room",
    "compare",
    "find_arrivals",
    "find_decay",
    "find_paths",
    "format_length",
    "headline",
    "load_scene",
    "move_in_text",
    "parse_length",
    "place_of",
    "read_scene_text",
    "run_study",
    "set_in_text",
    "sketch_scene",
    "speaker_axis",
    "way_of",
    "way_of_peak",
    "zone_points",
]
