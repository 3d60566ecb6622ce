"""Absorption and scattering of surfaces per octave band, each row with its source."""

import tomllib
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.acoustics.air import BAND_NAMES, BANDS_HZ

AngleModel = Literal["random incidence", "local"]
"""What a plain surface does at an angle: the same at every one, or what a real local impedance would."""

DEFAULT_SCATTERING: NDArray[np.float64] = np.where(BANDS_HZ < 700.0, 0.05, 0.10)
"""Scattering of a plain surface, (8,): 0.05 to 500 Hz, 0.10 above. Common practice, no source."""
DEFAULT_SCATTERING.setflags(write=False)


@dataclass(frozen=True, eq=False)
class Material:
    """Energy that a surface absorbs and scatters, per octave band.

    Parameters
    ----------
    name : str
        Name for tables and messages.
    absorption : (8,) array_like
        Absorbed share of the energy at random incidence, 0 to 1, 63 Hz to 8 kHz.
    scattering : (8,) array_like or float
        Share of the reflected energy that leaves in other than the mirror direction, 0 to 1.
    source : str
        Where the numbers come from.
    at_an_angle : AngleModel
        How it reflects at an angle; see `plain_reflection`.

    Raises
    ------
    ValueError
        If there are not eight values or one is outside 0 to 1.

    Examples
    --------
    >>> Material("felt", [0.1, 0.1, 0.2, 0.4, 0.6, 0.7, 0.8, 0.8], 0.2).scattering.tolist()
    [0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2]
    """

    name: str
    absorption: NDArray[np.float64]
    scattering: NDArray[np.float64] = field(default_factory=lambda: DEFAULT_SCATTERING)
    source: str = ""
    at_an_angle: AngleModel = "random incidence"

    def __post_init__(self) -> None:
        object.__setattr__(self, "absorption", _checked(self.absorption, "absorption"))
        spread = np.broadcast_to(self.scattering, 8) if np.ndim(self.scattering) == 0 else self.scattering
        object.__setattr__(self, "scattering", _checked(spread, "scattering"))


@cache
def load_library() -> dict[str, Material]:
    """Materials that come with the program, by name.

    Returns
    -------
    dict of str to Material
        A row that has other names stands under each of them; `Material.name` is its first name. One
        dictionary for all callers: do not change it.

    Examples
    --------
    >>> load_library()["drywall"].name
    'plasterboard'
    """
    rows = tomllib.loads(files("raytrace.acoustics").joinpath("materials.toml").read_text(encoding="utf-8"))
    library: dict[str, Material] = {}
    for name, row in rows.items():
        material = Material(name, row["absorption"], row.get("scattering", DEFAULT_SCATTERING), row["source"])
        for key in (name, *row.get("also", ())):
            assert key not in library, key
            library[key] = material
    return library


def _checked(values: ArrayLike, what: str) -> NDArray[np.float64]:
    checked = np.array(values, dtype=np.float64)
    if checked.shape != (8,):
        count = checked.size if checked.ndim == 1 else f"an array of shape {checked.shape}"
        raise ValueError(f"{what} takes 8 values, {BAND_NAMES[0]} Hz to {BAND_NAMES[-1]} Hz; found {count}")
    if not ((checked >= 0.0) & (checked <= 1.0)).all():
        wrong = checked[~((checked >= 0.0) & (checked <= 1.0))][0]
        raise ValueError(f"{what} lies between 0 and 1 in every band; found {wrong:g}")
    checked.setflags(write=False)
    return checked
