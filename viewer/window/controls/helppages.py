"""Two pages of words in the window: keys and gestures, and what the figures rest on."""

from collections.abc import Iterable
from html import escape

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTextBrowser, QVBoxLayout, QWidget

from raytrace import Study
from viewer.window.controls.commands import COMMANDS, GESTURES
from viewer.window.controls.language import in_own_language
from viewer.window.controls.styling import plain
from viewer.words import told

COLUMNS = (("File", "Edit", "Variants", "Help"), ("View", "Sound"))  # and the pointer: all at a glance
KEY_PX, GESTURE_PX = 108, 150
SHARES = (32, 30, 38)  # of the page that a column takes, in percent
PAGE_PX = (1260, 740)


def keys_html() -> str:
    """Every key and gesture, by menu."""
    columns = ["".join(_menu(menu) for menu in menus) for menus in COLUMNS]
    columns.append(f"<h4>{in_own_language('By pointer and keys')}</h4>{_table(GESTURES, GESTURE_PX)}")
    cells = "".join(f"<td width={share}%>{own}</td>" for own, share in zip(columns, SHARES, strict=True))
    return f"<table width=100%><tr>{cells}</tr></table>"


def _menu(menu: str) -> str:
    rows = [(command.keys, command.text) for command in COMMANDS if command.menu == menu and command.keys]
    return f"<h4>{in_own_language(menu)}</h4>{_table(rows, KEY_PX)}"


def _table(rows: Iterable[tuple[str, str]], key_px: int) -> str:
    lines = [
        f"<tr><td width={key_px}><b>{escape(in_own_language(key))}</b></td>"
        f"<td>{escape(in_own_language(text))}</td></tr>"
        for key, text in rows
    ]
    return f"<table cellpadding=1>{''.join(lines)}</table>"


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
