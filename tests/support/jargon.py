"""Words of the trade that a client's pages, pictures and charts do without."""

import re

JARGON = (
    "order",
    "orders",
    "facet",
    "facets",
    "polygon",
    "image source",
    "mirror source",
    "specular",
    "diffuse",
    "diffusion",
    "scattering",
    "absorption coefficient",
    "alpha",
    "Fresnel",
    "Kirchhoff",
    "diffraction",
    "directivity",
    "ISO 9613",
    "ISO 9613-1",
    "impulse response",
    "energy-time curve",
    "ETC",
    "octave",
    "octaves",
    "band-limited",
    "broadband",
    "comb filter",
    "coherent",
    "phase",
    "pressure",
    "head zone",
    "zone",
    "margin",
    "re direct",
    "set-out frame",
    "RT60",
    "T20",
    "T30",
    "Schroeder",
    "modal",
    "broad-band",
    "transfer matrix",
    "kernel",
    "mesh",
    "admittance",
    "incidence",
)


def jargon_in(words):
    """Which of them stand in a text, as whole words of any case."""
    return [term for term in JARGON if re.search(rf"\b{re.escape(term)}\b", words, re.IGNORECASE)]
