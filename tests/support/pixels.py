"""Where things of the window lie in it, for tests and benchmarks that point at them."""

from viewer.window.state import faces_of, point_of


def pixel(view, point):
    """Where a point of the room lies in a view of it."""
    x, y = view.camera.project(point)
    return float(x), float(y)


def pixel_of_thing(window, thing):
    """Where a speaker, seat, panel or object lies in the picture of the room."""
    return pixel(window.main.room, point_of(window.shown.study, thing))


def pixel_of_spot(window, row):
    """Where the first spot of a reflection lies in the picture of the room."""
    return pixel(window.main.room, window.shown.study.arrivals.path_points[row, 1])


def pixel_of_scanned(window, row):
    """Where the middle of a surface fitted to a scan lies in the picture of it."""
    outline = next(own for k, own in faces_of(window.scanning.shown) if k == row)
    return pixel(window.main.scan.view, outline.mean(axis=0))


def listed(tree, path):
    """The row of a scene's table in a list of what the room holds, by the path that it carries."""
    from PySide6.QtCore import Qt

    model = tree.model()
    groups = [model.index(row, 0) for row in range(model.rowCount())]
    rows = [model.index(k, 0, group) for group in groups for k in range(model.rowCount(group))]
    return next(tree.itemFromIndex(row) for row in rows if row.data(Qt.ItemDataRole.UserRole) == list(path))


def is_resting(window):
    """Whether the whole study of the scene as it stands is shown, and nothing is on its way."""
    shown, session = window.shown, window.session
    return None not in (shown, session.first) and session.is_whole and not session.worker.is_busy
