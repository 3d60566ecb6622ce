"""Many independent tasks on all cores or on a cluster, none of them lost and none done twice."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.spreading.spreading import Crew, Hands, SpreadError, TaskRecord, all_cores

__all__ = ["Crew", "Hands", "SpreadError", "TaskRecord", "all_cores"]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
