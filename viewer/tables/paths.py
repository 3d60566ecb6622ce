"""Paths as a table for other programs: a line for every point, in full precision."""

from raytrace import Study
from viewer.tables.csvtext import csv_text


def paths_csv(study: Study) -> str:
    """Speaker, bounces and seat of every path, one line each; the direct sound is path 0 of its pair.

    Columns: path, speaker, seat, order, delay_ms, band_level_db, point, at, x_m, y_m, z_m.
    """
    table = study.arrivals
    rows: list[list[object]] = []
    direct = table.direct
    for row in range(len(direct.speaker)):
        speaker, seat = int(direct.speaker[row]), int(direct.seat[row])
        names = [table.speaker_names[speaker], table.seat_names[seat]]
        ends = (study.scene.speakers[speaker].position, study.scene.seats[seat].ears)
        for number, (at, point) in enumerate(zip(("speaker", "seat"), ends, strict=True)):
            rows.append([0, *names, 0, 0.0, 0.0, number, at, *point])
    for row in range(len(table.order)):
        order = int(table.order[row])
        names = [table.speaker_names[table.speaker[row]], table.seat_names[table.seat[row]]]
        met = [study.room.surfaces[k].name for k in table.path_surfaces[row, :order]]
        level = float(table.band_level_db[row])
        facts = [row + 1, *names, order, 1e3 * float(table.delay_s[row]), None if level != level else level]
        for number, at in enumerate(("speaker", *met, "seat")):
            rows.append([*facts, number, at, *table.path_points[row, number].tolist()])
    head = [
        "path",
        "speaker",
        "seat",
        "order",
        "delay_ms",
        "band_level_db",
        "point",
        "at",
        "x_m",
        "y_m",
        "z_m",
    ]
    return csv_text([head, *rows])
