import functools
import json

import numpy as np
import pytest
from rich.console import Console

from raytrace import BAND_NAMES, Sampling, build_room, find_arrivals, find_decay, load_scene
from tests.support.scenes import SCENES
from viewer.cli import run
from viewer.tables.decay import decay_json, decay_tables

KEYS = [
    "speaker", "seat", "bands_hz", "edt_s", "t20_s", "t30_s", "c50_db", "c80_db", "d50", "ts_ms",
    "error_s", "sabine_s", "eyring_s", "arau_s", "mean_free_path_m", "target_s", "schroeder_hz", "notes",
]  # fmt: skip


@functools.cache
def scene_and_decays(name):
    scene = load_scene(SCENES / f"{name}.toml")
    room = build_room(scene)
    arrivals = find_arrivals(scene, room, up_to_order=2)
    return scene, find_decay(scene, room, arrivals, sampling=Sampling(3200))


def test_json_holds_every_number_in_full():
    scene, decays = scene_and_decays("garage")
    entries = decay_json(scene, decays)["decays"]
    assert [(e["speaker"], e["seat"]) for e in entries] == [
        (speaker.name, seat.name) for speaker in scene.speakers for seat in scene.seats
    ]
    for entry, decay in zip(entries, decays, strict=True):
        assert list(entry) == KEYS
        assert entry["bands_hz"] == list(BAND_NAMES)
        assert entry["t20_s"] == decay.parameters.t20_s.tolist()
        assert entry["error_s"] == decay.errors.t20_s.tolist()
        assert entry["ts_ms"] == (1e3 * decay.parameters.ts_s).tolist()
        assert entry["target_s"] == decay.target.time_s
        assert entry["notes"] == [str(note) for note in decay.notes]


def test_json_has_null_where_there_is_no_number(scene_of):
    from tests.support.scenes import BOX

    scene = scene_of(BOX)  # walls that absorb nothing: no T30 low down within any record
    room = build_room(scene)
    decays = find_decay(scene, room, find_arrivals(scene, room, up_to_order=1), sampling=Sampling(320))
    entry = decay_json(scene, decays)["decays"][0]
    assert entry["t30_s"][0] is None
    json.dumps(entry, allow_nan=False)


def test_the_table_names_every_row_and_every_note():
    scene, decays = scene_and_decays("garage")
    console = Console(width=120, record=True, file=None, quiet=False)
    with console.capture() as captured:
        console.print(decay_tables(scene, decays))
    text = captured.get()
    for word in (
        "EDT",
        "T20",
        "T30",
        "C50",
        "C80",
        "D50",
        "Ts",
        "Sabine",
        "Eyring",
        "Arau-Puchades",
        "Target",
    ):
        assert word in text
    assert f"{decays[0].parameters.t20_s[4]:.2f}" in text
    assert "inf" not in text.split("Target")[0]
    assert "single modes rule" in " ".join(text.split())


def test_the_command_prints_what_it_promises(capsys):
    scene = str(SCENES / "cupboard.toml")
    assert run(["decay", scene, "--json", "--rays", "320", "--speaker", "left"]) == 0
    entries = json.loads(capsys.readouterr().out)["decays"]
    assert [entry["speaker"] for entry in entries] == ["left"]
    assert list(entries[0]) == KEYS
    assert run(["decay", scene, "--rays", "320", "--seed", "1"]) == 0
    assert "T20" in capsys.readouterr().out


@pytest.mark.parametrize("mistake", [["--rays", "3"], ["--seat", "nowhere"], ["--speaker", "nobody"]])
def test_a_mistake_is_answered_in_one_line(mistake, capsys):
    assert run(["decay", str(SCENES / "cupboard.toml"), *mistake]) == 2
    captured = capsys.readouterr()
    assert not captured.out
    assert len(captured.err.strip().splitlines()) == 1


def test_equal_seeds_print_equal_figures(capsys):
    texts = []
    for _ in range(2):
        run(["decay", str(SCENES / "cupboard.toml"), "--json", "--rays", "320", "--seed", "4"])
        texts.append(capsys.readouterr().out)
    assert texts[0] == texts[1]
    assert np.isfinite(json.loads(texts[0])["decays"][0]["t20_s"]).all()
