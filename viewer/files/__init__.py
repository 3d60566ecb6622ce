"""Folders and files of output: complete or not at all, never over what is not ours."""

from typing import TYPE_CHECKING

from raytrace import late_face

if TYPE_CHECKING:
    from viewer.files.names import file_stem, file_stems
    from viewer.files.origin import Origin, OutputRefused, Place, check_origin
    from viewer.files.outfolder import check_folder, moved_into_place
    from viewer.files.unfinished import OUTSIDE, refusing_trouble, written_beside
    from viewer.files.wholefile import Content, write_together, write_whole

__all__ = [
    "OUTSIDE",
    "Content",
    "Origin",
    "OutputRefused",
    "Place",
    "check_folder",
    "check_origin",
    "file_stem",
    "file_stems",
    "moved_into_place",
    "refusing_trouble",
    "write_together",
    "write_whole",
    "written_beside",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
