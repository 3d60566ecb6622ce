"""Pictures of a study: its room as datasets, drawn in soft light, with names, key and caption."""

from viewer.pictures import meshes, parts
from viewer.pictures.camera import Camera, fit_camera
from viewer.pictures.faces import (
    column,
    cross,
    dashes,
    discs,
    edges,
    is_part,
    legs,
    loops_of,
    outlines,
    picked,
    polygons,
    polylines,
    raised,
    vtk_array,
)
from viewer.pictures.fields import Bands, bands, even_levels_db, hatching, lobes
from viewer.pictures.film import FILM_FORMATS, write_film
from viewer.pictures.finishes import FINISHES
from viewer.pictures.graphics import lift_over, prefer_off_screen_window
from viewer.pictures.key import ROW_PX, ROWS, draw_key, draw_scale_bar
from viewer.pictures.labels import Box, Label, Placed, place_labels, rising
from viewer.pictures.layers import choose_camera, proud_m
from viewer.pictures.lighting import Lighting, corner_light, light_room
from viewer.pictures.lightmap import LightMap, map_light
from viewer.pictures.mesh import Mesh
from viewer.pictures.meshes import SUB_SIDE, shown_rows
from viewer.pictures.pictures import (
    LEVEL_WORDS,
    Picture,
    Raster,
    facts,
)
from viewer.pictures.plate import Layout, Plate, draw_labels, draw_title, measure_label
from viewer.pictures.seeing import see
from viewer.pictures.shells import Shell, shell_in_air, shell_on_faces, shells_of, unjudged_study
from viewer.pictures.stage import (
    Floats,
    Layer,
    Stage,
    is_drawn_area,
    one_colour,
    seen_edges,
    seen_facets,
    set_stage,
)
from viewer.pictures.stills import STILLS, Lettering, Still, draw_shells, draw_stills, write_stills
from viewer.pictures.surfaceviews import panel_table, surface_pages, surface_pictures, views_of

__all__ = [
    "FILM_FORMATS",
    "FINISHES",
    "LEVEL_WORDS",
    "ROWS",
    "ROW_PX",
    "STILLS",
    "SUB_SIDE",
    "Bands",
    "Box",
    "Camera",
    "Floats",
    "Label",
    "Layer",
    "Layout",
    "Lettering",
    "LightMap",
    "Lighting",
    "Mesh",
    "Picture",
    "Placed",
    "Plate",
    "Raster",
    "Shell",
    "Stage",
    "Still",
    "bands",
    "choose_camera",
    "column",
    "corner_light",
    "cross",
    "dashes",
    "discs",
    "draw_key",
    "draw_labels",
    "draw_scale_bar",
    "draw_shells",
    "draw_stills",
    "draw_title",
    "edges",
    "even_levels_db",
    "facts",
    "fit_camera",
    "hatching",
    "is_drawn_area",
    "is_part",
    "legs",
    "lift_over",
    "light_room",
    "lobes",
    "loops_of",
    "map_light",
    "measure_label",
    "meshes",
    "one_colour",
    "outlines",
    "panel_table",
    "parts",
    "picked",
    "place_labels",
    "polygons",
    "polylines",
    "prefer_off_screen_window",
    "proud_m",
    "raised",
    "rising",
    "see",
    "seen_edges",
    "seen_facets",
    "set_stage",
    "shell_in_air",
    "shell_on_faces",
    "shells_of",
    "shown_rows",
    "surface_pages",
    "surface_pictures",
    "unjudged_study",
    "views_of",
    "vtk_array",
    "write_film",
    "write_stills",
]
