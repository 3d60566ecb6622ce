import numpy as np
import pytest
from conftest import BOX

from raytrace import build_room, find_arrivals, find_decay
from raytrace.air import BANDS_HZ
from raytrace.classical import eyring_s, kuttruff_s
from raytrace.decay import energy_room, ray_directions
from raytrace.kernels.energy import EnergyLimits, trace_energy

FAR_S = 0.03


def hard(alpha, scattering):
    text = BOX.replace("[0, 0, 0, 0, 0, 0, 0, 0]", str([alpha] * 8))
    # Dry air at a low temperature takes the least; the energy of the kernel itself knows no air.
    return text.replace("scattering = 0", f"scattering = {scattering}")


def decay_of(scene, **options):
    room = build_room(scene)
    order = options.pop("up_to_order", 4)
    arrivals = find_arrivals(scene, room, up_to_order=order, within_s=options.pop("within_s", FAR_S))
    return find_decay(scene, room, arrivals, **options)[0]


def trace(room, directions, energy, n_bins=400, faintest=0.0, most=60):
    c = room.speed_of_sound_m_s
    limits = EnergyLimits(
        bin_m=1e-3 * c,
        exact_order=0,
        sphere_m=0.25,
        faintest=faintest,
        most_bounces=most,
        tolerance=room.tolerance_m,
        rounding=1e-14,
    )
    histogram, account = np.zeros((1, n_bins, 8)), np.zeros((3, 8))
    seat, within = np.array([[3.2, 2.0, 1.2]]), np.zeros(1)
    source = np.array([1.0, 1.3, 1.2])
    arrays, surfaces = room.facet_arrays, energy_room(room)
    trace_energy(source, directions, 0, energy, seat, within, arrays, surfaces, limits, 1, histogram, account)
    return histogram, account


def test_energy_absorbed_and_left_is_what_was_sent(scene_of):
    room = build_room(scene_of(hard(0.2, 0.5)))
    energy = np.full((500, 8), 1.0 / 500)
    _, account = trace(room, ray_directions(500, 0), energy)
    assert np.allclose(account[0] + account[2] - account[1], 1.0, rtol=0, atol=1e-12)  # rounding
    assert np.allclose(account[1], 0.0, atol=1e-15)  # all bands scatter alike: nothing is reweighted


def test_any_number_of_threads_gives_the_same_bits(scene_of):
    scene = scene_of(hard(0.3, 0.2))
    one = decay_of(scene, n_rays=640, threads=1)
    two = decay_of(scene, n_rays=640, threads=2)
    assert np.array_equal(one.energy, two.energy)
    assert not np.array_equal(one.energy, decay_of(scene, n_rays=640, seed=1).energy)


def test_rays_are_spread_evenly():
    directions = ray_directions(5000, 3)
    assert np.allclose(np.linalg.norm(directions, axis=1), 1.0, atol=1e-12)
    assert np.linalg.norm(directions.mean(axis=0)) < 1e-3  # a spiral is far better than random (0.014)


@pytest.mark.slow
def test_scattered_sound_decays_with_the_spread_of_free_paths(scene_of):
    # Kuttruff, Room Acoustics (from memory): gamma^2 0.358 for 5 x 4 x 2.6 m with Lambert walls.
    decay = decay_of(scene_of(hard(0.2, 1.0)), n_rays=12_000)
    kuttruff = float(kuttruff_s(52.0, 86.8, 0.2, path_variance=0.358))
    eyring = float(eyring_s(52.0, [86.8], [0.2]))
    t20 = decay.parameters.t20_s[1]  # 125 Hz: the air takes next to nothing
    assert t20 == pytest.approx(kuttruff, rel=0.02)
    assert abs(t20 - kuttruff) < abs(t20 - eyring)


@pytest.mark.slow
@pytest.mark.parametrize("scattering", [0.0, 1.0])
def test_early_and_late_together_do_not_depend_on_the_exact_order(scene_of, scattering):
    scene = scene_of(hard(0.2, scattering))
    sums = []
    for order in (1, 4):
        runs = [
            decay_of(scene, n_rays=3200, up_to_order=order, seed=seed).energy[:30].sum(axis=0)
            for seed in range(4)
        ]
        sums.append((np.mean(runs, axis=0), np.std(runs, axis=0, ddof=1) / 2))
    (a, error_a), (b, error_b) = sums
    # Three standard errors of four runs, and 3 % for the sphere's width against a point.
    assert np.all(np.abs(a - b) < 3 * np.hypot(error_a, error_b) + 0.03 * b)


@pytest.mark.slow
def test_the_error_falls_with_the_root_of_the_number_of_rays(scene_of):
    scene = scene_of(hard(0.3, 0.6))
    room = build_room(scene)
    arrivals = find_arrivals(scene, room, up_to_order=1)
    numbers = np.array([400, 1600, 6400])
    spread = []
    for n in numbers:
        late = [
            find_decay(scene, room, arrivals, n_rays=int(n), seed=seed)[0].energy[5:60, 3].sum()
            for seed in range(12)
        ]
        spread.append(np.std(late, ddof=1))
    slope = np.polyfit(np.log(numbers), np.log(spread), 1)[0]
    assert slope == pytest.approx(-0.5, abs=0.25)  # twelve runs know their spread to a fifth


def test_a_rays_mean_free_path_is_4v_over_s(scene_of):
    # C. W. Kosten, Acustica 10 (1960) 245 (from memory): 4 V / S = 2.39631 m. Bounces per metre with no
    # absorption: count them by an absorption so small that it only marks each bounce.
    tiny = 1e-9
    room = build_room(scene_of(hard(tiny, 1.0)))
    n, metres = 4000, 600
    energy = np.full((n, 8), 1.0 / n)
    bin_m = 1e-3 * room.speed_of_sound_m_s
    _, account = trace(room, ray_directions(n, 0), energy, n_bins=int(metres / bin_m), most=10_000)
    bounces = account[0, 0] / tiny
    # A ray ends with the first bounce beyond the time: about one bounce too many per ray.
    assert (metres / (bounces - 0.7)) == pytest.approx(2.39631, rel=0.005)


def test_the_command_prints_what_it_promises(capsys):
    import json

    from conftest import SCENES

    from viewer.cli import run

    assert run(["decay", str(SCENES / "cupboard.toml"), "--json", "--rays", "320", "--speaker", "left"]) == 0
    entries = json.loads(capsys.readouterr().out)["decays"]
    assert [entry["speaker"] for entry in entries] == ["left"]
    assert list(entries[0]) == [
        "speaker", "seat", "bands_hz", "edt_s", "t20_s", "t30_s", "c50_db", "c80_db", "d50", "ts_ms",
        "error_s", "sabine_s", "eyring_s", "arau_s", "target_s", "schroeder_hz", "notes",
    ]  # fmt: skip
    assert len(entries[0]["t20_s"]) == len(BANDS_HZ)
    assert run(["decay", str(SCENES / "cupboard.toml"), "--rays", "320"]) == 0
    out = capsys.readouterr().out
    assert "T20" in out
    assert "single modes rule" in " ".join(out.split())
    assert run(["decay", str(SCENES / "cupboard.toml"), "--rays", "3"]) == 2
