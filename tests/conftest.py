import gc
import os
from collections import Counter

# As on the command line, and before numpy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest
from hypothesis import HealthCheck, settings

from raytrace import Scene, load_scene
from tests.support.groups import group_of

# The same examples in every run, and no time limit on a busy machine.
settings.register_profile(
    "hitspot",
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
settings.load_profile("hitspot")


def pytest_collection_modifyitems(items):
    """The groups that take longest come first, so that no worker is left with a long one at the end."""
    seconds = Counter()  # roughly, on a machine with nothing else to do
    for item in items:
        seconds[group_of(item.nodeid)] += 5.0 if item.get_closest_marker("slow") else 0.1
    items.sort(key=lambda item: (-seconds[group_of(item.nodeid)], group_of(item.nodeid)))


def pytest_collection_finish():
    """What was imported and collected stays: as on the command line it is not searched for cycles again."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(250_000, 50, 100)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Whole groups go to the workers, in the order collected."""
    from xdist.scheduler import LoadScopeScheduling

    class Groups(LoadScopeScheduling):
        def _split_scope(self, nodeid):
            return group_of(nodeid)

    config.option.loadscopereorder = False
    return Groups(config, log)


@pytest.fixture
def scene_of(tmp_path):
    """Turns the text of a scene into a Scene."""

    def load(text: str, name: str = "scene.toml") -> Scene:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return load_scene(path)

    return load


@pytest.fixture
def small():
    """A scene and the problem of twelve places in it that overlap here and there."""
    from tests.support.places import twelve_places

    return twelve_places()
