"""Fixed words of the window in the reader's language, by Qt's own translators; English where there is none.

Menus, buttons, labels, tool tips and names for screen readers are English where they are made, and put into
another language here, all in one pass. Sentences that tell figures are made in `viewer/words/`.
"""

from pathlib import Path

from PySide6.QtCore import QCoreApplication, QLocale, QObject, QTranslator
from PySide6.QtWidgets import QAbstractSpinBox, QComboBox, QLineEdit, QTableWidget, QWidget

CONTEXT = "hitspot"
FOLDER = Path(__file__).parent.parent / "languages"
PROPERTIES = ("text", "title", "toolTip", "accessibleName", "placeholderText", "specialValueText")


def load_language(locale: QLocale, folder: Path = FOLDER) -> bool:
    """Speak a reader's language from now on, if the folder has it, as `hitspot.de.qm` say."""
    application = QCoreApplication.instance()
    translator = QTranslator(application)
    return translator.load(locale, CONTEXT, ".", str(folder)) and QCoreApplication.installTranslator(
        translator
    )


def in_own_language(words: str) -> str:
    """Fixed words as the reader's language has them."""
    return QCoreApplication.translate(CONTEXT, words) if words else ""


def translate_words(root: QWidget) -> None:
    """Put all fixed words of a widget and of what is in it into the reader's language; fields keep theirs."""
    for own in (root, *root.findChildren(QObject)):
        is_field = isinstance(own, QLineEdit | QAbstractSpinBox)
        for name in PROPERTIES:
            words = own.property(name)
            if isinstance(words, str) and words and not (is_field and name == "text"):
                own.setProperty(name, in_own_language(words))
        if isinstance(own, QComboBox):
            for row in range(own.count()):
                own.setItemText(row, in_own_language(own.itemText(row)))
        if isinstance(own, QTableWidget):
            for row in range(own.rowCount()):
                head = own.verticalHeaderItem(row)
                if head is not None:
                    head.setText(in_own_language(head.text()))
                    head.setToolTip(in_own_language(head.toolTip()))
