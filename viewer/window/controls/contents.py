"""What the room holds: a list of everything its scene says, and a form for what is selected of it."""

from collections.abc import Sequence

from PySide6.QtCore import QItemSelectionModel, Qt, Signal
from PySide6.QtGui import QFont
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QMenu,
    QPushButton,
    QSplitter,
    QToolButton,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from raytrace import Key, KeyPath, keys_at
from viewer.window.controls.keyform import KeyForm
from viewer.window.state import SceneState, are_entries, contents_of, table_words

PATH = Qt.ItemDataRole.UserRole


class Contents(QWidget):
    """List and form of a `SceneState`."""

    chosen = Signal(object)  # tuple of KeyPath
    add_wanted = Signal(str)
    duplicate_wanted = Signal()
    mirror_wanted = Signal()
    delete_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.tree = QTreeWidget()
        self.tree.setHeaderHidden(True)
        self.tree.setRootIsDecorated(False)
        self.tree.setIndentation(14)
        self.tree.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.tree.setAccessibleName("What the room holds")
        self.tree.setFrameShape(QTreeWidget.Shape.NoFrame)
        self.form = KeyForm()
        self.add = QToolButton(popupMode=QToolButton.ToolButtonPopupMode.InstantPopup)
        self.add.setText("Add ▾")
        self.add.setMenu(QMenu(self.add))
        self.duplicate, self.mirror, self.delete = (
            QPushButton(words) for words in ("Duplicate", "Mirror", "Delete")
        )
        self.mirror.setToolTip("A copy on the other side of the listening axis (Ctrl+M)")
        self._rows: object = None
        self._draws = False
        self._lay_out()

    def _lay_out(self) -> None:
        buttons = QHBoxLayout()
        buttons.setContentsMargins(8, 4, 8, 4)
        buttons.setSpacing(2)
        for button in (self.add, self.duplicate, self.mirror, self.delete):
            buttons.addWidget(button)
        buttons.addStretch(1)
        top = QWidget()
        column = QVBoxLayout(top)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(buttons)
        column.addWidget(self.tree, 1)
        self.halves = QSplitter(Qt.Orientation.Vertical)
        self.halves.addWidget(top)
        self.halves.addWidget(self.form)
        self.halves.setSizes([300, 420])
        self.halves.setChildrenCollapsible(False)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.halves)
        self.tree.itemSelectionChanged.connect(self._chose)
        self.duplicate.clicked.connect(lambda _: self.duplicate_wanted.emit())
        self.mirror.clicked.connect(lambda _: self.mirror_wanted.emit())
        self.delete.clicked.connect(lambda _: self.delete_wanted.emit())

    def offer(self, names: Sequence[str]) -> None:
        """Offer what can be added; a name that is "" parts groups."""
        for name in names:
            if name:
                self.add.menu().addAction(name).triggered.connect(
                    lambda _=False, own=name: self.add_wanted.emit(own)
                )
            else:
                self.add.menu().addSeparator()

    def draw(self, state: SceneState) -> None:
        """Show a record."""
        self._draws = True
        rows = contents_of(state.scene)
        if rows != self._rows:
            self._rows = rows
            self._fill(rows)
        chosen = set(state.chosen)
        model = self.tree.selectionModel()
        for item in self._items():
            is_chosen = tuple(item.data(0, PATH)) in chosen
            if item.isSelected() != is_chosen:
                item.setSelected(is_chosen)
            if is_chosen and item.data(0, PATH) == list(state.chosen[-1]):
                self.tree.scrollToItem(item)
                index = self.tree.indexFromItem(item)
                model.setCurrentIndex(index, QItemSelectionModel.SelectionFlag.NoUpdate)
        for button in (self.duplicate, self.mirror, self.delete):
            button.setEnabled(are_entries(state.chosen))
        keys, mixed = shared_keys(state)
        self.form.draw(_heading(state), keys, units=state.units, mixed=mixed, refused=state.refused)
        self._draws = False

    def _fill(self, rows: Sequence[tuple[str, Sequence[tuple[KeyPath, str]]]]) -> None:
        self.tree.clear()
        bold = QFont(self.font())
        bold.setBold(True)
        for heading, entries in rows:
            group = QTreeWidgetItem([heading])
            group.setFlags(Qt.ItemFlag.ItemIsEnabled)
            group.setFont(0, bold)
            self.tree.addTopLevelItem(group)
            for path, words in entries:
                item = QTreeWidgetItem([words])
                item.setData(0, PATH, list(path))
                item.setToolTip(0, words)
                group.addChild(item)
            group.setExpanded(True)

    def _items(self) -> list[QTreeWidgetItem]:
        groups = [self.tree.topLevelItem(i) for i in range(self.tree.topLevelItemCount())]
        items = [group.child(k) for group in groups if group is not None for k in range(group.childCount())]
        return [item for item in items if item is not None]

    def _chose(self) -> None:
        if not self._draws:
            self.chosen.emit(tuple(tuple(item.data(0, PATH)) for item in self.tree.selectedItems()))


def shared_keys(state: SceneState) -> tuple[list[Key], frozenset[KeyPath]]:
    """Keys that all selected tables take, as of the first of them, and those whose values differ."""
    if not state.chosen or len({path[:1] for path in state.chosen}) > 1:
        return [], frozenset()
    first, *others = ({key.path[len(path) :]: key for key in keys_of(state, path)} for path in state.chosen)
    shared = {
        tail: key
        for tail, key in first.items()
        if all(tail in other for other in others) and (not others or tail != ("name",))
    }
    mixed = {key.path for tail, key in shared.items() if any(o[tail].value != key.value for o in others)}
    return list(shared.values()), frozenset(mixed)


def keys_of(state: SceneState, path: KeyPath) -> tuple[Key, ...]:
    """Keys of one table of the record's scene."""
    return keys_at(state.scene, path, surfaces=state.surfaces if path == ("surfaces",) else state.faces)


def _heading(state: SceneState) -> str:
    if not state.chosen:
        return "Select something in the list or in the room."
    if len(state.chosen) > 1:
        return f"{len(state.chosen)} selected"
    return table_words(state.scene, state.chosen[0])
