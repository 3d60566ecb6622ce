"""How near summed paths come to full-wave solutions of whole rooms, as measured."""

from dataclasses import dataclass


@dataclass(frozen=True)
class WaveCheck:
    """Levels of peaks against a full-wave solution of the same room, 1 to 8 kHz, up to 10 ms. [dB]

    Attributes
    ----------
    median_db, nine_in_ten_db, worst_db : float
        Differences, over all peaks above -25 dB re direct at the ears and the corners of the head zone, near
        misses counted as the verdict counts them.
    """

    median_db: float
    nine_in_ten_db: float
    worst_db: float


# One rigid room of 4.2 x 3.0 x 2.4 m, solved on cells of 2.5 mm (test_full_waves.py measures these figures).
WAVE_CHECKS = {
    "bare": WaveCheck(0.3, 0.6, 1.2),
    "desk": WaveCheck(0.4, 0.9, 1.8),
    "treated": WaveCheck(0.5, 1.1, 2.0),
    "real": WaveCheck(1.3, 2.9, 5.4),
}
"""By what stands in it: nothing; a desk; wool on two walls and a cloud; all these, loudspeakers and a screen.

The last one's source is a point in a loudspeaker's front, held against one on a sphere of its cabinet's size.
"""
