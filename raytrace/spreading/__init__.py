"""Many independent tasks on all cores or on a cluster, none of them lost and none done twice."""

from raytrace.spreading.spreading import Crew, Hands, SpreadError, TaskRecord, all_cores

__all__ = ["Crew", "Hands", "SpreadError", "TaskRecord", "all_cores"]
