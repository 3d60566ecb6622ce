"""How the window's controls look, from the colours of its theme."""

from viewer.theme import Theme


def stylesheet(theme: Theme) -> str:
    """Style sheet of the whole window."""
    return f"""
QMainWindow, QWidget {{ background: {theme.paper}; color: {theme.ink}; font-size: 13px; }}
QLabel#heading {{ font-size: 24px; font-weight: 600; }}
QLabel#trouble {{ color: {theme.accent}; }}
QMenuBar {{ background: {theme.paper}; border-bottom: 1px solid {theme.hairline}; padding: 2px 6px; }}
QMenuBar::item {{ padding: 4px 9px; background: transparent; }}
QMenuBar::item:selected, QMenu::item:selected {{ background: {theme.pressed}; color: {theme.ink}; }}
QMenu {{ background: {theme.field}; border: 1px solid {theme.hairline}; padding: 4px; }}
QMenu::item {{ padding: 5px 26px 5px 22px; }}
QMenu::separator {{ height: 1px; background: {theme.hairline}; margin: 4px 8px; }}
QPushButton, QToolButton {{ background: transparent; border: 1px solid transparent;
    border-radius: 4px; padding: 4px 9px; }}
QPushButton:hover, QToolButton:hover {{ border-color: {theme.hairline}; }}
QPushButton:checked {{ background: {theme.pressed}; }}
QPushButton:focus, QToolButton:focus, QComboBox:focus, QLineEdit:focus {{ border: 1px solid {theme.ink}; }}
QPushButton#main {{ background: {theme.ink}; color: {theme.paper}; padding: 8px 18px; font-weight: 600; }}
StartPage QPushButton {{ border: 1px solid {theme.hairline}; padding: 7px 14px; }}
QComboBox {{ background: {theme.field}; border: 1px solid {theme.hairline}; border-radius: 4px;
    padding: 3px 8px; }}
QComboBox QAbstractItemView {{ background: {theme.field}; border: 1px solid {theme.hairline};
    selection-background-color: {theme.pressed}; selection-color: {theme.ink}; }}
QLineEdit {{ background: {theme.field}; border: 1px solid {theme.hairline}; border-radius: 4px;
    padding: 3px 6px;
    placeholder-text-color: {theme.muted}; }}
QCheckBox {{ spacing: 6px; }}
QCheckBox::indicator {{ width: 13px; height: 13px; border: 1px solid {theme.muted}; border-radius: 3px;
    background: {theme.field}; }}
QCheckBox::indicator:checked {{ background: {theme.ink}; border: 3px solid {theme.field};
    outline: 1px solid {theme.muted}; }}
QTableView {{ background: {theme.field}; alternate-background-color: {theme.field}; border: none;
    border-top: 1px solid {theme.hairline}; border-bottom: 1px solid {theme.hairline};
    selection-background-color: {theme.chosen}; selection-color: {theme.ink}; outline: none; }}
QHeaderView::section {{ background: {theme.paper}; color: {theme.muted}; border: none; padding: 4px 6px; }}
QHeaderView {{ background: {theme.paper}; }}
QSplitter::handle {{ background: {theme.hairline}; }}
QSplitter::handle:horizontal {{ width: 1px; }}
QSplitter::handle:vertical {{ height: 1px; }}
QSlider::groove:horizontal {{ height: 2px; background: {theme.hairline}; }}
QSlider::handle:horizontal {{ width: 10px; height: 16px; margin: -7px 0; border-radius: 3px;
    background: {theme.ink}; }}
QSlider::handle:horizontal:disabled {{ background: {theme.hairline}; }}
QScrollBar:vertical {{ width: 10px; background: transparent; }}
QScrollBar::handle:vertical {{ background: {theme.hairline}; border-radius: 4px; min-height: 30px; }}
QScrollBar::add-line, QScrollBar::sub-line {{ height: 0; width: 0; }}
QToolTip {{ background: {theme.ink}; color: {theme.paper}; border: none; padding: 6px; }}
QStatusBar {{ background: {theme.paper}; color: {theme.muted}; }}
QStatusBar QLabel {{ color: {theme.muted}; }}
"""
