"""Scans and floor plans dropped on the window: looked over, corrected by hand, written as scenes."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from raytrace import (
    CleanRoom,
    GrownScan,
    MeshError,
    PlaneEdits,
    PlanSettings,
    ScanSettings,
    SceneDraft,
    SceneError,
    draft_floorplan,
    draft_scene,
    parse_length,
    read_floorplan,
)
from viewer.files import OutputRefused, write_together
from viewer.window.filing import SCENE_FILES, Filing
from viewer.window.main_window import MainWindow
from viewer.window.questions import Questions
from viewer.window.session import ScanSearch
from viewer.window.state import ScanOnScreen, first_look, with_edits
from viewer.words import listed

SCAN_FILES = "Scans and floor plans (*.obj *.glb *.gltf *.stl *.ply *.dxf)"
HEIGHT = "No floor plan shows how high a room is. Its height:"
TWO_OF_A_KIND = "Two walls, or two slopes, can be one plane; these two cannot."


class Scanning:
    """A scan from the file to the scene that is made of it; what was open stays until then."""

    def __init__(
        self, questions: Questions, filing: Filing, main: MainWindow, crashed: Callable[[Exception], None]
    ) -> None:
        self._questions, self._filing, self._main = questions, filing, main
        self.shown: ScanOnScreen | None = None
        self.search = ScanSearch(main)
        self.search.grown.connect(self._grown)
        self.search.fitted.connect(self._fitted)
        self.search.refused.connect(self._refused)
        self.search.crashed.connect(crashed)
        self.search.progressed.connect(main.scan.show_progress)
        self._connect()

    def _connect(self) -> None:
        page, view = self._main.scan, self._main.scan.view
        view.eye_moved.connect(lambda eye: self._change(eye=eye))
        view.chosen.connect(self._point)
        view.pulling.connect(lambda by_m: self._change(pulled_m=by_m))
        view.dropped.connect(self.move)
        view.resized.connect(self._fit_view)
        page.rows_chosen.connect(lambda rows: self._change(chosen=rows, pulled_m=0.0))
        page.renamed.connect(self.rename)
        page.merge_wanted.connect(self.merge)
        page.aside_wanted.connect(self.set_aside)
        page.undo_wanted.connect(self.undo)
        page.reading_wanted.connect(self.read_as)
        page.room_wanted.connect(self.take_room)
        page.accept_wanted.connect(self.accept)
        page.cancel_wanted.connect(self.cancel)
        self._main.dressed.connect(lambda: self._change(theme=self._main.theme))

    # Files.

    def ask_file(self) -> None:
        """Ask for a scan or a floor plan."""
        path = self._questions.file_to_open("Scan or floor plan", SCAN_FILES)
        if path:
            self.take(Path(path))

    def take(self, path: Path) -> None:
        """Look a scan over; of a floor plan only the height is asked."""
        if path.suffix.lower() == ".dxf":
            self._take_plan(path)
            return
        self.shown = ScanOnScreen(path, ScanSettings(), theme=self._main.theme)
        self._main.show_scan()
        self._read()

    def read_as(self, unit: str, up: str) -> None:
        """Read its numbers in another unit, or with another axis upwards."""
        shown = self.shown
        if shown is not None:
            settings = replace(shown.settings, unit=unit, up=up)
            self.shown = ScanOnScreen(shown.file, settings, theme=shown.theme)
            self._read()

    def take_room(self, number: int) -> None:
        """Take another of the rooms in the file; 0 for all of them as one."""
        shown = self.shown
        if shown is not None:
            settings = replace(shown.settings, room=number)
            self.shown = ScanOnScreen(shown.file, settings, theme=shown.theme)
            self._read()

    def _read(self) -> None:
        assert self.shown is not None
        self._main.scan.draw(self.shown)
        self._main.scan.show_progress("reading the scan", 0.0)
        self.search.read(self.shown.file, self.shown.settings)

    def _grown(self, grown: GrownScan, room: CleanRoom) -> None:
        self._main.scan.show_progress("", None)
        eye = first_look(room, self._main.scan.view.size_px)
        self._change(grown=grown, room=room, eye=eye)

    def _fit_view(self) -> None:
        if self.shown is not None and self.shown.room is not None:
            self._change(eye=first_look(self.shown.room, self._main.scan.view.size_px))

    def _refused(self, why: str) -> None:
        """A file that makes no room, or edits after which it is none: those are taken back."""
        self._main.scan.show_progress("", None)
        shown = self.shown
        if shown is None:
            return
        if shown.room is not None and shown.past:
            self.shown = replace(shown, edits=shown.past[-1], past=shown.past[:-1])
        self._change(says=why, pulled_m=0.0)

    # Planes.

    def _point(self, row: int | None, beside: bool) -> None:
        shown = self.shown
        if shown is None:
            return
        if row is None:
            self._change(chosen=())
        elif beside:
            others = tuple(own for own in shown.chosen if own != row)
            self._change(chosen=others if row in shown.chosen else (*others, row))
        else:
            self._change(chosen=(row,))

    def move(self) -> None:
        """Leave the selected surface where it was pulled."""
        shown = self.shown
        if shown is not None and shown.pulled_m and len(shown.chosen) == 1:
            assert shown.room is not None
            planes = shown.room.surfaces[shown.chosen[0]].planes
            moved = tuple((plane, shown.pulled_m) for plane in planes)
            self._edit(replace(shown.edits, moved=(*shown.edits.moved, *moved)))

    def merge(self) -> None:
        """Make one plane of the two that are selected."""
        shown = self.shown
        if shown is None or shown.room is None or len(shown.chosen) != 2:
            return
        one, other = (shown.room.surfaces[row] for row in shown.chosen)
        if "floor" in (one.name, other.name):
            self._change(says=TWO_OF_A_KIND)
            return
        merged = tuple((one.planes[0], plane) for plane in (*one.planes[1:], *other.planes))
        self._edit(replace(shown.edits, merged=(*shown.edits.merged, *merged)))

    def set_aside(self) -> None:
        """Take the selected surface out of the room."""
        shown = self.shown
        if shown is not None and shown.room is not None and len(shown.chosen) == 1:
            planes = shown.room.surfaces[shown.chosen[0]].planes
            self._edit(replace(shown.edits, aside=(*shown.edits.aside, *planes)))

    def rename(self, row: int, name: str) -> None:
        """Give a surface another name."""
        shown = self.shown
        if shown is None or shown.room is None:
            return
        own = shown.room.surfaces[row]
        if name == own.name:
            return
        kept = tuple(old for old in shown.edits.names if old[0] != own.planes[0])
        self._edit(replace(shown.edits, names=(*kept, (own.planes[0], name))))

    def undo(self) -> None:
        """One step back."""
        shown = self.shown
        if shown is not None and shown.past:
            self.shown = replace(shown, edits=shown.past[-1], past=shown.past[:-1], says="")
            self._fit()

    def _edit(self, edits: PlaneEdits) -> None:
        assert self.shown is not None
        self.shown = with_edits(self.shown, edits)
        self._fit()

    def _fit(self) -> None:
        assert self.shown is not None
        if self.shown.grown is not None:
            self._main.scan.show_progress("fitting the room", 0.5)
            self.search.fit(self.shown.grown, self.shown.edits)
        self._main.scan.draw(self.shown)

    def _fitted(self, edits: PlaneEdits, room: CleanRoom) -> None:
        self._main.scan.show_progress("", None)
        shown = self.shown
        if shown is None or shown.edits is not edits:
            return
        planes = set(shown.chosen_planes)
        chosen = tuple(row for row, own in enumerate(room.surfaces) if planes & set(own.planes))
        self._change(room=room, chosen=chosen, pulled_m=0.0)

    def _change(self, **values: Any) -> None:
        if self.shown is not None:
            self.shown = replace(self.shown, **values)
            self._main.scan.draw(self.shown)

    # The way out.

    def accept(self) -> None:
        """Ask for a name, write the scene with its import report, and open it."""
        from viewer.tables import clean_json

        shown = self.shown
        if shown is None or shown.room is None:
            return
        room = shown.room
        target = self._target(shown.file)
        if target is None:
            return
        try:
            draft = draft_scene(room, target)
        except (MeshError, SceneError) as problem:
            self._change(says=str(problem))
            return
        if self._write(target, draft, clean_json(room, draft.notes)):
            self.cancel()
            self._filing.open(target)

    def cancel(self) -> None:
        """Leave the scan; what was open is shown again."""
        if self.shown is not None:
            self.search.stop()
            self.shown = None
            self._main.leave_scan()

    def _target(self, file: Path) -> Path | None:
        path = self._questions.file_to_write("The scene of this scan", f"{file.stem}.toml", SCENE_FILES)
        if not path:
            return None
        target = Path(path)
        return target if target.suffix == ".toml" else target.with_name(f"{target.name}.toml")

    def _write(self, target: Path, draft: SceneDraft, told: dict[str, Any]) -> bool:
        """Write scene, import report and what belongs to them, all or none."""
        contents = {target: draft.text, target.with_name(f"{target.stem}-import.json"): _json(told)}
        if draft.mesh is not None:
            contents[target.with_name(f"{target.stem}-room.obj")] = draft.mesh
        there = [path.name for path in contents if path.exists()]
        if there and target.name not in there:  # which alone was asked about
            self._questions.tell_plain("Not written", f"{listed(there)} exists already: give another name.")
            return False
        try:
            write_together(contents)
        except OutputRefused as problem:
            self._questions.tell_plain("Not written", str(problem))
            return False
        self._questions.folder = target.resolve().parent
        return True

    def _take_plan(self, path: Path) -> None:
        """Make a scene of the largest outline in a floor plan."""
        from viewer.tables import floorplan_json

        told = self._questions.ask_name(HEIGHT, "2400 mm")
        if told is None:
            return
        try:
            plan = read_floorplan(path, PlanSettings(height_m=parse_length(told)))
        except (MeshError, ValueError) as problem:
            self._questions.tell_plain("No room was made of this plan", str(problem))
            return
        target = self._target(path)
        if target is None:
            return
        try:
            draft = draft_floorplan(plan, target)
        except MeshError as problem:
            self._questions.tell_plain("No room was made of this plan", str(problem))
            return
        if self._write(target, draft, floorplan_json(plan, draft.notes)):
            self._filing.open(target)

    def end(self) -> None:
        """Let go of what works beside the window."""
        self.search.end()
        self._main.scan.view.end()


def _json(told: dict[str, Any]) -> str:
    return json.dumps(told, indent=1) + "\n"
