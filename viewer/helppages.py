"""Two pages of words in the window: keys and gestures, and what the figures rest on."""

from collections.abc import Iterable
from html import escape

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTextBrowser, QVBoxLayout, QWidget

from raytrace import Study
from viewer.commands import COMMANDS, GESTURES


def keys_html() -> str:
    """Every key and gesture, by menu."""
    parts = []
    for menu in dict.fromkeys(command.menu for command in COMMANDS):
        rows = [(c.keys, c.text) for c in COMMANDS if c.menu == menu and c.keys]
        parts.append(f"<h3>{menu}</h3>{_table(rows)}")
    return "".join(parts) + f"<h3>With the pointer</h3>{_table(GESTURES)}"


def _table(rows: Iterable[tuple[str, str]]) -> str:
    lines = [f"<tr><td width=250><b>{escape(key)}</b></td><td>{escape(text)}</td></tr>" for key, text in rows]
    return f"<table cellpadding=3>{''.join(lines)}</table>"


def notes_html(study: Study) -> str:
    """Limits of validity and cautions of a study."""
    notes, cautions = (
        "".join(f"<li>{escape(text)}</li>" for text in part) for part in (study.notes, study.cautions)
    )
    return f"<h3>What these figures rest on</h3><ul>{notes}</ul><h3>Cautions</h3><ul>{cautions}</ul>"


def show_page(parent: QWidget, title: str, html: str) -> QDialog:
    """A page of words in a window of its own, beside the first."""
    page = QDialog(parent)
    page.setWindowTitle(title)
    page.resize(680, 720)
    text = QTextBrowser()
    text.setHtml(html)
    close = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
    close.rejected.connect(page.close)
    layout = QVBoxLayout(page)
    layout.addWidget(text)
    layout.addWidget(close)
    page.show()
    return page
