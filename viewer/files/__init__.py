"""Folders of output: complete or not at all, never over what is not ours."""

from viewer.files.outfolder import Kind, OutputRefused, file_stem, moved_into_place

__all__ = [
    "Kind",
    "OutputRefused",
    "file_stem",
    "moved_into_place",
]
