import numpy as np

from raytrace.proposing.states import Effect, Sounds, States

N_POINTS, N_HEARD, N_FREQUENCIES, N_CANDIDATES = 4, 30, 24, 12


def invented(seed=3):
    """Arrivals of a few points and candidates that touch some of their spots: numbers, no room."""
    random = np.random.default_rng(seed)
    n = N_POINTS * N_HEARD
    counts = random.integers(0, 4, n)
    n_spots = int(counts.sum())

    def waves(*shape):
        return random.normal(size=shape) + 1j * random.normal(size=shape)

    base = waves(n_spots, N_FREQUENCIES)
    base[random.random(n_spots) < 0.5] = 1.0  # legs past panels that are not there
    rows = [np.flatnonzero(random.random(n_spots) < 0.1) for _ in range(N_CANDIDATES - 1)]
    rows.append(np.zeros(0, np.int64))  # one that touches nothing
    effects = [Effect(own, waves(len(own), N_FREQUENCIES)) for own in rows]
    sounds = Sounds(
        rest=0.3 * waves(n, N_FREQUENCIES),
        spot_start=np.concatenate([[0], np.cumsum(counts)]),
        base=base,
        share=np.full(N_FREQUENCIES, 1.0 / N_FREQUENCIES),
        heard_start=np.arange(N_POINTS + 1) * N_HEARD,
        delay_s=np.concatenate([np.sort(random.uniform(0.0, 0.01, N_HEARD)) for _ in range(N_POINTS)]),
        floor=1e-3,
    )
    return sounds, effects


def test_a_state_is_the_same_to_the_last_bit_whichever_set_it_is_worked_out_from():
    sounds, effects = invented()
    random = np.random.default_rng(5)
    every = np.arange(len(sounds.rest))
    for _ in range(20):
        known, asked = (
            np.sort(random.choice(N_CANDIDATES, random.integers(0, 6), replace=False)).tolist() for _ in "ab"
        )
        states = States(sounds, effects)
        states.about(known)
        found, whole = states.state(asked), States(sounds, effects).about(asked)
        for name in ("energy", "leader", "peaks"):
            assert np.array_equal(getattr(found, name), getattr(whole, name))
        assert np.array_equal(found.pressure_of(every), whole.known)


def test_only_what_a_candidate_touches_is_summed_anew():
    sounds, effects = invented()
    states = States(sounds, effects)
    bare = states.about([])
    found = states.state([0])
    touched = np.repeat(every := np.arange(len(sounds.rest)), np.diff(sounds.spot_start))[effects[0].rows]
    assert found.changed.tolist() == np.unique(touched).tolist()
    apart = np.setdiff1d(every, found.changed)
    assert np.array_equal(found.energy[apart], bare.energy[apart])
    assert states.state([N_CANDIDATES - 1]) is bare
