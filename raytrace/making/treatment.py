"""What is hung or stood in a room: its hooks, battens, loads and goods, as one record."""

from dataclasses import dataclass
from functools import cached_property

from raytrace.facts import Sentence
from raytrace.making.battens import Batten, find_battens, hook_notes
from raytrace.making.bill_of_materials import BillOfMaterials, list_bill_of_materials
from raytrace.making.feet import check_stands
from raytrace.making.framing import Piece, take_apart
from raytrace.making.hanging import Hook, find_hooks, hooks_of_rafts
from raytrace.making.loads import PanelLoad, find_loads, is_hung
from raytrace.making.ownership import Ownership, find_ownership
from raytrace.making.rafts import Raft
from raytrace.making.stands import Stability, find_stability
from raytrace.room import Room
from raytrace.scene import Scene


@dataclass(frozen=True)
class Treatment:
    """A scene's panels in their room, with what holds them and what they are made of.

    Raises
    ------
    SceneError
        For a stand that would not stand as it is given.
    """

    scene: Scene
    room: Room

    def __post_init__(self) -> None:
        """Nothing is made of what would fall over."""
        check_stands(self.scene, self.room)

    @cached_property
    def bill_of_materials(self) -> BillOfMaterials:
        """What to buy and cut."""
        return list_bill_of_materials(self.scene, self.room, self.hooks)

    @cached_property
    def pieces(self) -> dict[int, Piece]:
        """What each panel is made of, by panel; of a stack, each of it."""
        return {k: take_apart(panel.build, hung=is_hung(panel)) for k, panel in enumerate(self.room.panels)}

    @cached_property
    def hooks(self) -> tuple[Hook, ...]:
        """Every hook of every panel."""
        return find_hooks(self.scene, self.room)

    @cached_property
    def ownership(self) -> Ownership:
        """Which panels are owned and which are to be made."""
        return find_ownership(self.scene, self.room.panels)

    @cached_property
    def battens(self) -> tuple[Batten, ...]:
        """Timbers across joists for hooks that meet none."""
        return find_battens(self.scene, self.room, self.hooks)

    @cached_property
    def rafts(self) -> tuple[Raft, ...]:
        """Frames that several slabs share."""
        return tuple(raft for raft, _ in hooks_of_rafts(self.hooks))

    @cached_property
    def loads(self) -> dict[int, PanelLoad]:
        """What each panel or raft weighs on its hooks, by the panel that its hooks name."""
        return {load.panel: load for load in find_loads(self.room, self.hooks)}

    @cached_property
    def stability(self) -> dict[int, Stability]:
        """How each stand is built and at what it tips, by panel."""
        return {entry.panel: entry for entry in find_stability(self.scene, self.room)}

    @cached_property
    def notes(self) -> tuple[Sentence, ...]:
        """What must be known before anything is drilled for the hooks."""
        return hook_notes(self.scene, self.room, self.hooks)
