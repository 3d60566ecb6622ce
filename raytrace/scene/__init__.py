"""A scene file -> Scene: checked, frozen, plain; its text, its edits, a first one from a tape sketch."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.scene.builds import load_builds
    from raytrace.scene.covers import Cover, load_covers
    from raytrace.scene.edits import Movable, move_in_text, place_of, rename_keys_in_text, set_in_text
    from raytrace.scene.entries import (
        LISTS,
        add_in_text,
        entry_spans,
        put_in_text,
        remove_in_text,
        rename_in_text,
        retyped,
    )
    from raytrace.scene.feetslips import bare_numbers_like_feet
    from raytrace.scene.forms import Form, Key, keys_at, put_key
    from raytrace.scene.frames import DRESSED_M, FrameSection, frame_section, names_a_size
    from raytrace.scene.naming import did_you_mean, nearest_name
    from raytrace.scene.rewriting import Value
    from raytrace.scene.rooms import (
        BoxObject,
        BoxRoom,
        GableRoom,
        LeanToRoom,
        MeasuredHeight,
        MeasuredLength,
        MeshObject,
        MeshRoom,
        PlanRoom,
        SectionRoom,
        Slope,
    )
    from raytrace.scene.scene import Scene, load_scene
    from raytrace.scene.sketch import sketch_scene
    from raytrace.scene.sketch_questions import QUESTIONS, Question
    from raytrace.scene.sketch_room import AnswerError, check_answer, seated_heights_m
    from raytrace.scene.tables import (
        ALONG_LEVEL,
        ALONG_UPRIGHT,
        Aim,
        Air,
        Build,
        Cloud,
        CloudPanel,
        DirectivityFile,
        Facing,
        Joists,
        KeepOut,
        Panel,
        Seat,
        Speaker,
        Stand,
        TwoWay,
    )
    from raytrace.scene.tape import Tape
    from raytrace.scene.text import KeyPath, SceneError, plain_text, read_scene_text
    from raytrace.scene.units import format_length, parse_length
    from raytrace.scene.workshop import with_prices, with_stock

__all__ = [
    "ALONG_LEVEL",
    "ALONG_UPRIGHT",
    "DRESSED_M",
    "LISTS",
    "QUESTIONS",
    "Aim",
    "Air",
    "AnswerError",
    "BoxObject",
    "BoxRoom",
    "Build",
    "Cloud",
    "CloudPanel",
    "Cover",
    "DirectivityFile",
    "Facing",
    "Form",
    "FrameSection",
    "GableRoom",
    "Joists",
    "KeepOut",
    "Key",
    "KeyPath",
    "LeanToRoom",
    "MeasuredHeight",
    "MeasuredLength",
    "MeshObject",
    "MeshRoom",
    "Movable",
    "Panel",
    "PlanRoom",
    "Question",
    "Scene",
    "SceneError",
    "Seat",
    "SectionRoom",
    "Slope",
    "Speaker",
    "Stand",
    "Tape",
    "TwoWay",
    "Value",
    "add_in_text",
    "bare_numbers_like_feet",
    "check_answer",
    "did_you_mean",
    "entry_spans",
    "format_length",
    "frame_section",
    "keys_at",
    "load_builds",
    "load_covers",
    "load_scene",
    "move_in_text",
    "names_a_size",
    "nearest_name",
    "parse_length",
    "place_of",
    "plain_text",
    "put_in_text",
    "put_key",
    "read_scene_text",
    "remove_in_text",
    "rename_in_text",
    "rename_keys_in_text",
    "retyped",
    "seated_heights_m",
    "set_in_text",
    "sketch_scene",
    "with_prices",
    "with_stock",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
