"""How far colours stand apart, as WCAG 2.1 defines it (relative luminance, contrast ratio)."""

import numpy as np

from viewer.look import rgb


def luminance(colour):
    """Relative luminance of sRGB colours (..., 3)."""
    part = np.asarray(colour, np.float64)
    linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    return linear @ np.array([0.2126, 0.7152, 0.0722])


def contrast(one, other):
    """Contrast ratio of two colours, 1 to 21."""
    bright, dark = sorted((float(luminance(rgb(one))), float(luminance(rgb(other)))), reverse=True)
    return (bright + 0.05) / (dark + 0.05)
