"""Studies of scenes, run once for all tests of a process that look at them."""

from collections import OrderedDict
from dataclasses import replace
from functools import cache

from raytrace import Scene, Study, load_scene, run_study
from tests.support.scenes import SCENES

MOST_KEPT = 12
_known: OrderedDict[tuple[object, ...], Study] = OrderedDict()


@cache
def shipped_study(name: str, **options) -> Study:
    """The run of scenes/name.toml: frozen, so that nobody changes it for the others."""
    return run_study(load_scene(SCENES / f"{name}.toml"), **options)


def known_study(scene: Scene, *, progress=None, **options) -> Study:
    """The run of a scene, in whatever folder it lies; the newest are kept, so that many may open one scene.

    What is kept is handed out with the rooms and places of the scene that it was run for first.
    """
    folder = scene.path.parent if "file" in scene.text else None  # meshes and measured speakers lie beside it
    key = (repr(scene), scene.text, folder, *sorted(options.items()))
    study = _known.pop(key, None) or run_study(scene, progress=progress, **options)
    _known[key] = study
    if len(_known) > MOST_KEPT:
        _known.popitem(last=False)
    return replace(study, scene=scene)
