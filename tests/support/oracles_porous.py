"""Another description of wool than the program's own, for layers of it."""

from dataclasses import dataclass

import numpy as np

_VISCOSITY = 1.84e-5  # of air, Pa s (textbook)
_HEAT_RATIO = 1.4  # of air
_PRANDTL = 0.71  # of air
_PRESSURE = 101_325.0  # of air, Pa


@dataclass(frozen=True)
class JohnsonChampouxAllard:
    """Wool or foam known by five parameters.

    Flow resistivity [Pa s/m2], porosity, tortuosity, viscous and thermal length [m].

    Notes
    -----
    D. L. Johnson, J. Koplik, R. Dashen, J. Fluid Mech. 176 (1987) 379; Y. Champoux, J.-F. Allard,
    J. Appl. Phys. 70 (1991) 1975; both from memory.
    """

    flow_resistivity: float
    porosity: float
    tortuosity: float
    viscous_length_m: float
    thermal_length_m: float

    def waves(self, frequency_hz, medium):
        """Characteristic impedance [Pa s/m] and wavenumber [1/m] at some frequencies."""
        sigma, phi, alpha = self.flow_resistivity, self.porosity, self.tortuosity
        inertia = 2.0 * np.pi * frequency_hz * medium.density_kg_m3
        viscous = np.sqrt(
            1.0 + 4j * alpha**2 * _VISCOSITY * inertia / (sigma * self.viscous_length_m * phi) ** 2
        )
        density = alpha * medium.density_kg_m3 / phi * (1.0 + sigma * phi / (1j * inertia * alpha) * viscous)
        x = self.thermal_length_m**2 * _PRANDTL * inertia / _VISCOSITY
        thermal = 1.0 - 8j / x * np.sqrt(1.0 + 1j * x / 16.0)
        stiffness = _HEAT_RATIO * _PRESSURE / phi / (_HEAT_RATIO - (_HEAT_RATIO - 1.0) / thermal)
        wavenumber = 2.0 * np.pi * frequency_hz * np.sqrt(density / stiffness)
        return np.sqrt(density * stiffness), wavenumber


def typical_wool(flow_resistivity):
    """Five parameters of a wool of which only the flow resistivity is known.

    Notes
    -----
    Porosity 0.98, tortuosity 1.02, viscous length sqrt(8 eta alpha / (sigma phi)), thermal length twice
    that: the usual recipe after Allard and Atalla, Propagation of Sound in Porous Media (from memory).
    """
    length = float(np.sqrt(8.0 * _VISCOSITY * 1.02 / (flow_resistivity * 0.98)))
    return JohnsonChampouxAllard(flow_resistivity, 0.98, 1.02, length, 2.0 * length)
