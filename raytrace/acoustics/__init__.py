"""Sound and materials before there is a room: air, surfaces, wool, speakers, reflectors of finite size."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.acoustics.air import (
        BAND_NAMES,
        BANDS_HZ,
        air_attenuation_db_per_m,
        air_density_kg_m3,
        band_frequencies_hz,
        band_share,
        speed_of_sound_m_s,
    )
    from raytrace.acoustics.decaylimits import DecayTarget, decay_target
    from raytrace.acoustics.directivity import Directivity, omni, read_directivity, two_way
    from raytrace.acoustics.iso3382 import RoomParameters, decay_curve, room_parameters
    from raytrace.acoustics.kirchhoff import (
        hung_reflection,
        hung_transmission,
        kirchhoff_weight,
        open_edges_weight,
        to_wall_plane,
    )
    from raytrace.acoustics.materials import DEFAULT_SCATTERING, AngleModel, Material, load_library
    from raytrace.acoustics.plainsurfaces import (
        even_reflection,
        local_absorption,
        local_admittance,
        plain_reflection,
    )
    from raytrace.acoustics.porous import (
        Backing,
        Facing,
        Gap,
        Incidence,
        Layer,
        Medium,
        Miki,
        Stack,
        absorption,
        random_absorption,
        reflection,
        transmission,
    )
    from raytrace.acoustics.ratings import Rating, rate_stack
    from raytrace.acoustics.standards import EBU_TECH_3276, ITU_R_BS_1116_3
    from raytrace.acoustics.twocrossings import shared_weight

__all__ = [
    "BANDS_HZ",
    "BAND_NAMES",
    "DEFAULT_SCATTERING",
    "EBU_TECH_3276",
    "ITU_R_BS_1116_3",
    "AngleModel",
    "Backing",
    "DecayTarget",
    "Directivity",
    "Facing",
    "Gap",
    "Incidence",
    "Layer",
    "Material",
    "Medium",
    "Miki",
    "Rating",
    "RoomParameters",
    "Stack",
    "absorption",
    "air_attenuation_db_per_m",
    "air_density_kg_m3",
    "band_frequencies_hz",
    "band_share",
    "decay_curve",
    "decay_target",
    "even_reflection",
    "hung_reflection",
    "hung_transmission",
    "kirchhoff_weight",
    "load_library",
    "local_absorption",
    "local_admittance",
    "omni",
    "open_edges_weight",
    "plain_reflection",
    "random_absorption",
    "rate_stack",
    "read_directivity",
    "reflection",
    "room_parameters",
    "shared_weight",
    "speed_of_sound_m_s",
    "to_wall_plane",
    "transmission",
    "two_way",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
