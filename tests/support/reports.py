"""Reports for tests that ask neither how pictures and charts look nor how exactly the decay is known."""

from functools import partial

import pytest
from matplotlib.figure import Figure
from PIL import Image

from raytrace import Sampling, find_decay
from viewer.pictures import Still


@pytest.fixture
def small_charts(monkeypatch):
    """Few rays, and few dots of each chart."""
    save = Figure.savefig
    monkeypatch.setattr(Figure, "savefig", lambda *given, **more: save(*given, **(more | {"dpi": 20})))
    monkeypatch.setattr("viewer.report.report.find_decay", partial(find_decay, sampling=Sampling(640)))


@pytest.fixture
def blank_stills(monkeypatch):
    """Blank pictures in place of the drawn ones."""

    def draw(_study, folder, size, *, progress, **_options):
        stills = []
        for name in ("room", "plan", "section"):
            Image.new("RGB", size, "white").save(folder / f"{name}.png")
            stills.append(Still(name, folder / f"{name}.png", "A caption.", (), None))
        progress("pictures done", 1.0)
        return tuple(stills)

    monkeypatch.setattr("viewer.pictures.draw_stills", draw)
