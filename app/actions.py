"""The table of actions: what can be done, with which key, where, and when.

Menus, key help and the hints on the panels are derived from it; `clashes` proves that within one
focus a key means one thing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from enum import StrEnum

from PySide6.QtCore import QKeyCombination, Qt
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QMenu, QMenuBar, QWidget


class Focus(StrEnum):
    """What must have the focus for a key to act; the value is what the key help calls it."""

    ANYWHERE = "anywhere"
    SHEET = "on the sheet"
    TAB = "on the tab"
    STAFF = "on the staff"
    STRIP = "on the form strip"


# What is active together: a key must not occur twice in any of these.
TOGETHER = (
    (Focus.ANYWHERE, Focus.SHEET, Focus.TAB),
    (Focus.ANYWHERE, Focus.SHEET, Focus.STAFF),
    (Focus.ANYWHERE, Focus.STRIP),
)

# Tab and Shift+Tab always move the focus, Enter presses what has it.
RESERVED = ("Tab", "Shift+Tab", "Backtab")


def always() -> bool:
    """What can be done at any time."""
    return True


@dataclass(frozen=True)
class Action:
    """One thing that can be done.

    `keys` are portable key texts (``Ctrl+Right``); the first is shown. `menu` is its menu, empty
    for a key that stands in the key help only; `group` parts a menu by lines. `ticked` is set for
    what is on or off.
    """

    id: str
    title: str
    keys: tuple[str, ...]
    focus: Focus
    run: Callable[[], object]
    menu: str = ""
    group: int = 0
    enabled: Callable[[], bool] = always
    ticked: Callable[[], bool] | None = field(default=None)


class Table:
    """All actions, looked up by id or by focus and key. Raises ValueError when two clash."""

    def __init__(self, actions: Iterable[Action]) -> None:
        self.actions = tuple(actions)
        found = list(clashes(self.actions))
        if found:
            raise ValueError("; ".join(found))
        self._by_id = {action.id: action for action in self.actions}

    def __getitem__(self, name: str) -> Action:
        return self._by_id[name]

    def find(self, focus: Focus, key: str) -> Action | None:
        """What a key does for a widget of ours that has the focus; never a window shortcut."""
        areas = (focus, Focus.SHEET) if focus in (Focus.TAB, Focus.STAFF) else (focus,)
        return next((a for a in self.actions if a.focus in areas and key in a.keys), None)

    def hint(self, name: str, words: str = "") -> str:
        """``N next open place``: the key of an action and what it does there."""
        action = self._by_id[name]
        return f"{native(action.keys[0])} {words or action.title.lower()}"

    def menus(self) -> dict[str, list[Action]]:
        """Menu title -> its actions, both in the order of the table."""
        found: dict[str, list[Action]] = {}
        for action in self.actions:
            if action.menu:
                found.setdefault(action.menu, []).append(action)
        return found


def clashes(actions: Iterable[Action]) -> Iterator[str]:
    """A sentence for each key that means two things in one focus, and for reserved keys."""
    rows = list(actions)
    names = [action.id for action in rows]
    yield from (f"the action {n} stands twice" for n in set(names) if names.count(n) > 1)
    for together in TOGETHER:
        taken: dict[str, str] = {}
        for action in (a for a in rows if a.focus in together):
            for key in action.keys:
                if key in RESERVED:
                    yield f"{action.id} takes {key}, which moves the focus"
                elif key in taken:
                    yield f"{key} means both {taken[key]} and {action.id} {together[-1]}"
                taken[key] = action.id


def native(key: str) -> str:
    """The key as this system writes it."""
    return QKeySequence(key, QKeySequence.SequenceFormat.PortableText).toString(
        QKeySequence.SequenceFormat.NativeText
    )


def key_texts(event: QKeyEvent) -> tuple[str, ...]:
    """The texts a pressed key may have in the table, likeliest first.

    Signs that need Shift on some keyboards (``+``, ``?``) are also known by their character.
    """
    modifiers = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
    combination = QKeyCombination(modifiers, Qt.Key(event.key()))
    texts = [QKeySequence(combination).toString(QKeySequence.SequenceFormat.PortableText)]
    sign = event.text()
    if len(sign) == 1 and sign.isprintable() and not sign.isalnum() and sign != " ":
        texts.append(sign)
    return tuple(texts)


class MenuMaker:
    """Fills a menu bar from the table and keeps what is enabled and ticked up to date."""

    def __init__(
        self, table: Table, owner: QWidget, attempt: Callable[[Callable[[], object]], None]
    ):
        self._table = table
        self._owner = owner
        self._attempt = attempt
        self._made: list[tuple[Action, QAction]] = []

    def fill(self, bar: QMenuBar) -> None:
        """Add every menu; keys that act anywhere become shortcuts of the window."""
        in_menus: set[str] = set()
        for title, actions in self._table.menus().items():
            menu = bar.addMenu(title)
            menu.aboutToShow.connect(self.refresh)
            self._fill_menu(menu, actions)
            in_menus.update(a.id for a in actions)
        for action in self._table.actions:
            if action.focus is Focus.ANYWHERE and action.id not in in_menus:
                self._owner.addAction(self._make(action))

    def _fill_menu(self, menu: QMenu, actions: list[Action]) -> None:
        group = actions[0].group
        for action in actions:
            if action.group != group:
                menu.addSeparator()
                group = action.group
            menu.addAction(self._make(action))

    def _make(self, action: Action) -> QAction:
        made = QAction(action.title, self._owner)
        made.setObjectName(action.id)
        if action.focus is Focus.ANYWHERE:
            made.setShortcuts([QKeySequence(key) for key in action.keys])
        elif action.keys:
            # Only shown: the sheet looks the key up itself, so that it acts only there.
            made.setText(f"{action.title}\t{native(action.keys[0])}")
        made.setCheckable(action.ticked is not None)
        made.triggered.connect(lambda: self._attempt(action.run))
        self._made.append((action, made))
        return made

    def context_menu(
        self, parent: QWidget, focuses: tuple[Focus, ...], menus: tuple[str, ...]
    ) -> QMenu:
        """A menu of what can be done where the pointer is."""
        menu = QMenu(parent)
        for title, actions in self._table.menus().items():
            if title not in menus:
                continue
            for action in actions:
                if action.focus in focuses and action.enabled():
                    row = menu.addAction(self._row_text(action))
                    row.triggered.connect(lambda _=False, a=action: self._attempt(a.run))
            menu.addSeparator()
        return menu

    @staticmethod
    def _row_text(action: Action) -> str:
        return f"{action.title}\t{native(action.keys[0])}" if action.keys else action.title

    def refresh(self) -> None:
        """Ask each action again whether it can be done and whether it is on."""
        for action, made in self._made:
            made.setEnabled(action.enabled())
            if action.ticked is not None:
                made.setChecked(action.ticked())
