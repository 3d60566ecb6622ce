"""What there is to draw of a room: every face in the colour of what it is, closed where it is solid."""

import functools

import numpy as np
import pytest

from tests.support.studies import shipped_study
from viewer import look
from viewer.pictures import Camera, column, fit_camera, meshes, parts, set_stage
from viewer.pictures.faces import PARTS

# A colour for each part, no two alike.
PLAIN = {part: f"#{17 * (i + 1):06X}" for i, part in enumerate(PARTS)}
PALETTE = look.Palette(faces=PLAIN, lines=PLAIN)
SIZE = (1000, 620)


@functools.cache
def stage_of(name):
    return set_stage(shipped_study(name, up_to_order=2))


def drawn(stage, palette):
    """All layers of faces."""
    named = parts.walls(stage, palette) | parts.panes(stage, palette) | parts.panels(stage, palette)
    named |= parts.speakers(stage, palette) | parts.seats(stage, palette)
    named["areas"] = parts.areas(stage, palette, stage.patches)
    return {name: layer for name, layer in named.items() if layer.radius_m == 0.0}


@pytest.mark.parametrize("name", ["box", "ridge", "treated-box"])
def test_every_cell_has_the_colour_of_what_it_is(name):
    for layer in drawn(stage_of(name), PALETTE).values():
        wanted = [look.rgb(PLAIN[PARTS[part]]) for part in column(layer.mesh, "part").astype(int)]
        assert np.array_equal(layer.colours, np.reshape(wanted, (-1, 3)))


def test_panes_lie_in_the_air_or_on_the_side_of_the_camera():
    stage = stage_of("box")
    flat = meshes.panes(stage.study)
    normals, middles = column(flat, "normal", 3), parts.middles(flat)

    def steps(camera: Camera | None):
        lifted = parts.middles(parts.panes(stage, PALETTE, camera)["panes"].mesh)
        return np.sum((lifted - middles) * normals, axis=1) / (look.RAISE_M * stage.scale)

    assert steps(None) == pytest.approx(1.0)
    for towards in ((1.0, 0.3, 0.2), (-1.0, 0.3, 0.2), (0.2, -1.0, 0.3)):
        camera = fit_camera(stage.corners, towards, up=(0, 0, 1), view_angle_deg=None, size=SIZE, margin=0.0)
        assert steps(camera) == pytest.approx(np.where(normals @ np.array(towards) > 0, 1.0, -1.0))


@pytest.mark.parametrize("name", ["box", "ridge", "treated-box"])
def test_solids_are_closed(name):
    solids = parts.solids(stage_of(name))
    assert {"speaker", "head"} <= {part for part, _ in solids}
    for part, triangles in solids:
        if part != "head":  # shoulders are open at the neck
            a, b, c = np.swapaxes(triangles, 0, 1)
            # The vector areas of a closed skin cancel. [m2]
            assert np.cross(b - a, c - a).sum(axis=0) == pytest.approx(0.0, abs=1e-9), part
