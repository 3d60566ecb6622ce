"""Two pages of words in the window: keys and gestures, and what the figures rest on."""

from collections.abc import Iterable
from html import escape

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTextBrowser, QVBoxLayout, QWidget

from raytrace import Study
from viewer.window.controls.commands import COMMANDS, GESTURES
from viewer.window.controls.styling import plain
from viewer.words import told

RIGHT_MENUS = ("View", "Help")  # two columns of about one length: all keys at a glance
KEY_PX, GESTURE_PX = 120, 190
PAGE_PX = (1000, 760)


def keys_html() -> str:
    """Every key and gesture, by menu."""
    parts = {}
    for menu in dict.fromkeys(command.menu for command in COMMANDS):
        rows = [(c.keys, c.text) for c in COMMANDS if c.menu == menu and c.keys]
        parts[menu] = f"<h3>{menu}</h3>{_table(rows, KEY_PX)}"
    left = "".join(parts[menu] for menu in parts if menu not in RIGHT_MENUS)
    right = "".join(parts[menu] for menu in RIGHT_MENUS)
    right += f"<h3>With the pointer</h3>{_table(GESTURES, GESTURE_PX)}"
    return f"<table width=100%><tr><td width=46%>{left}</td><td>{right}</td></tr></table>"


def _table(rows: Iterable[tuple[str, str]], key_px: int) -> str:
    lines = [
        f"<tr><td width={key_px}><b>{escape(key)}</b></td><td>{escape(text)}</td></tr>" for key, text in rows
    ]
    return f"<table cellpadding=2>{''.join(lines)}</table>"


def notes_html(study: Study, units: str) -> str:
    """Limits of validity and cautions of a study."""
    texts = [told(note, units) for note in study.notes]
    notes, cautions = (
        "".join(f"<li>{escape(text)}</li>" for text in part) for part in (texts, study.cautions)
    )
    return f"<h3>Limits of the method</h3><ul>{notes}</ul><h3>Cautions</h3><ul>{cautions}</ul>"


def show_page(parent: QWidget, title: str, html: str) -> QDialog:
    """A page of words in a window of its own, beside the first."""
    page = QDialog(parent)
    page.setWindowTitle(title)
    page.resize(*PAGE_PX)
    text = QTextBrowser()
    text.setHtml(html)
    close = plain(QDialogButtonBox(QDialogButtonBox.StandardButton.Close))
    close.rejected.connect(page.close)
    layout = QVBoxLayout(page)
    layout.addWidget(text)
    layout.addWidget(close)
    page.show()
    return page
