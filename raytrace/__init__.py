"""Where early reflections land in a small room: numbers only, no pictures."""

from raytrace.air import BAND_NAMES
from raytrace.arrivals import Arrivals, find_arrivals, speaker_axis, zone_points
from raytrace.battens import Batten, find_battens, hook_notes
from raytrace.builds import load_builds
from raytrace.comparison import ArrivalPair, Comparison, PeakPair, VerdictPair, compare, way_of, way_of_peak
from raytrace.criteria import Peak, Verdict, main_arrivals
from raytrace.datasheets import DataSheet, ThicknessCurve, list_datasheets, make_datasheet
from raytrace.decay import Decay, find_decay
from raytrace.feet import feet_notes
from raytrace.follow import Follower, moved
from raytrace.hanging import Hook, find_hooks, joist_lines
from raytrace.headlines import headline
from raytrace.ladder import Step
from raytrace.loads import PRACTICE, PanelLoad, Stability, find_loads, find_stability
from raytrace.making import Making, TimberCut, list_making
from raytrace.margins import PeakMargin
from raytrace.materials import Material, load_library
from raytrace.patches import Patch
from raytrace.paths import Paths, find_paths
from raytrace.proposal import OtherSeat, Proposal, ProposedPanel, Unreached, propose
from raytrace.response import Curve, EarlyResponse
from raytrace.room import PlacedPanel, Room, Surface, build_room
from raytrace.scene import Air, Build, Joists, Scene, load_scene
from raytrace.sceneedit import move_in_text, place_of, set_in_text
from raytrace.scenefile import SceneError, read_scene_text
from raytrace.sketch import QUESTIONS, Question, sketch_scene
from raytrace.stock import Stock, read_stock
from raytrace.study import CAUTIONS, LOCAL_CODES_FIRST, Study, place_notes, run_study
from raytrace.targets import find_targets
from raytrace.timber import Timber, yard_length_m, yard_timber
from raytrace.units import format_length, parse_length

__all__ = [
    "BAND_NAMES",
    "CAUTIONS",
    "LOCAL_CODES_FIRST",
    "PRACTICE",
    "QUESTIONS",
    "Air",
    "ArrivalPair",
    "Arrivals",
    "Batten",
    "Build",
    "Comparison",
    "Curve",
    "DataSheet",
    "Decay",
    "EarlyResponse",
    "Follower",
    "Hook",
    "Joists",
    "Making",
    "Material",
    "OtherSeat",
    "PanelLoad",
    "Patch",
    "Paths",
    "Peak",
    "PeakMargin",
    "PeakPair",
    "PlacedPanel",
    "Proposal",
    "ProposedPanel",
    "Question",
    "Room",
    "Scene",
    "SceneError",
    "Stability",
    "Step",
    "Stock",
    "Study",
    "Surface",
    "ThicknessCurve",
    "Timber",
    "TimberCut",
    "Unreached",
    "Verdict",
    "VerdictPair",
    "build_room",
    "compare",
    "feet_notes",
    "find_arrivals",
    "find_battens",
    "find_decay",
    "find_hooks",
    "find_loads",
    "find_paths",
    "find_stability",
    "find_targets",
    "format_length",
    "headline",
    "hook_notes",
    "joist_lines",
    "list_datasheets",
    "list_making",
    "load_builds",
    "load_library",
    "load_scene",
    "main_arrivals",
    "make_datasheet",
    "move_in_text",
    "moved",
    "parse_length",
    "place_notes",
    "place_of",
    "propose",
    "read_scene_text",
    "read_stock",
    "run_study",
    "set_in_text",
    "sketch_scene",
    "speaker_axis",
    "way_of",
    "way_of_peak",
    "yard_length_m",
    "yard_timber",
    "zone_points",
]
