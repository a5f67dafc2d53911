"""Change values in a YAML text that a person wrote: all else stays as it is, byte for byte.

A library that loads and dumps would lay the text out anew, and lose comments within `{…}`. So a
change is put into the text at the position that the YAML parser tells.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence

import yaml
from yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

Plain = str | list["Plain"] | dict[str, "Plain"]
Written = str | Sequence[str] | Mapping[str, "Written"]
Path = tuple[str, ...]
"""Keys from the top. An entry of a list is named by its `id`: `("fitted", "heater", "energy")`."""

_LISTS = ("fitted",)
"""Keys whose value is a list of entries with an `id`."""
_BARE = re.compile(r"[A-Za-z0-9]([A-Za-z0-9 ._/()-]*[A-Za-z0-9.)])?")
_BARE_ALONE = re.compile(r"[A-Za-z0-9]([A-Za-z0-9 ,._/()-]*[A-Za-z0-9.)])?")
_OTHERWISE = re.compile(r"0[0-9xo][0-9A-Fa-f]*|[0-9.]+[eE][0-9]+|(null|nan|inf|~)", re.IGNORECASE)
"""What other programs would take for another value than its text."""


class UneditableError(Exception):
    """A value cannot be put where it is wanted; the text says why."""


def parse_path(target: str) -> Path:
    """Return the keys of a dotted target, such as `fitted.heater.energy`."""
    return tuple(target.split("."))


def write_value(value: Written, *, flow: bool = True) -> str:
    """Return a text, a list or a table as YAML in one line, within `{…}` or on its own."""
    if isinstance(value, Mapping):
        return f"{{{', '.join(f'{key}: {write_value(one)}' for key, one in value.items())}}}"
    if not isinstance(value, str):
        return f"[{', '.join(write_value(item) for item in value)}]"
    if (_BARE if flow else _BARE_ALONE).fullmatch(value) and not _OTHERWISE.fullmatch(value):
        return value
    return json.dumps(value, ensure_ascii=False)


class Draft:
    """A YAML text in the making.

    The text must be one that `parse_tree` accepts: without anchors and tags, each key once.
    """

    def __init__(self, text: str) -> None:
        """Begin with a text."""
        self.text = text
        self._known: tuple[str, Node | None] = ("", None)

    def get(self, path: Path) -> Plain | None:
        """Return what stands at a path; None where nothing does."""
        node = self._find(path)
        return None if node is None else _plain(node)

    def marks(self, path: Path) -> Iterator[tuple[int, int]]:
        """Yield line and column, from 1, of the value at a path and of its key."""
        node = self._find(path)
        if node is not None:
            yield node.start_mark.line + 1, node.start_mark.column + 1
        table = self._find(path[:-1])
        for key, _ in table.value if isinstance(table, MappingNode) else ():
            if key.value == path[-1]:
                yield key.start_mark.line + 1, key.start_mark.column + 1

    def texts(self) -> Iterator[tuple[Path, str]]:
        """Yield every single value with its path. Entries of lists that have no `id` are passed."""
        top = self._compose()
        if top is not None:
            yield from _texts(top, ())

    def set(self, path: Path, value: Written) -> bool:
        """Put a value at a path, with all that leads there; return whether that changes anything.

        Raises:
            UneditableError: Something else than keys stands on the way.
        """
        wanted = _as_plain(value)
        if self.get(path) == wanted:
            return False
        before = self.text
        self._put(path, value)
        try:
            told = self.get(path)
        except UneditableError:
            told = None
        if told != wanted:  # a text of an unusual shape, such as all of it within { }
            self.text = before
            raise UneditableError(f"'{'.'.join(path)}' cannot be put where it belongs")
        return True

    def replace_entry(self, name: str, value: Written) -> None:
        """Write a key of the top anew, with no word left of its old value and its comments."""
        table = self._find(())
        assert isinstance(table, MappingNode)
        (index,) = [at for at, (key, _) in enumerate(table.value) if key.value == name]
        before = table.value[index][0].start_mark.index
        self.remove((name,))
        if table.flow_style or index == 0:
            self.set((name,), value)
        else:
            written = f" {write_value(value, flow=False)}" if value else ""
            self._insert(before, f"{name}:{written}{self._newline()}")

    def remove(self, path: Path) -> None:
        """Take out what stands at a path, with its key and, if it had a line to itself, its line.

        A table or an entry of a list that is left with nothing but its `id` goes too.
        """
        holder = self._find(path[:-1])
        if not isinstance(holder, MappingNode):
            return
        left = [key.value for key, _ in holder.value if key.value != path[-1]]
        if path[:-1] and left in ([], ["id"]):
            if len(path) > 2 and path[-3] in _LISTS:
                self._cut_item(path[:-1])
            else:
                self.remove(path[:-1])
            return
        for index, (key, value) in enumerate(holder.value):
            if key.value == path[-1]:
                nodes = [(k, v) for k, v in holder.value]
                self._cut(key.start_mark.index, _end(value), bool(holder.flow_style), index, nodes)

    def remove_item(self, path: Path) -> None:
        """Take an entry with an `id` out of its list, with the line that it had to itself.

        Raises:
            UneditableError: It stands in no list.
        """
        if self._find(path) is not None:
            if path[-2:-1] not in [(name,) for name in _LISTS]:
                raise UneditableError(f"'{'.'.join(path)}' is no entry of a list")
            self._cut_item(path)

    def remove_text(self, path: Path, text: str) -> None:
        """Take a text out of a list of texts; a list that is left empty goes with its key."""
        node = self._find(path)
        if isinstance(node, ScalarNode) and node.value == text:
            self.remove(path)
        elif isinstance(node, SequenceNode):
            for index, item in enumerate(node.value):
                if isinstance(item, ScalarNode) and item.value == text:
                    self._cut_from_list(path, node, index)
                    return

    def add_items(self, path: Path, items: Sequence[str]) -> bool:
        """Add to a list what it does not hold yet; return whether that changes anything."""
        before = self.get(path)
        held = [before] if isinstance(before, str) and before else before or []
        assert isinstance(held, list)
        new = [item for item in items if item not in held]
        if not new:
            return False
        node = self._find(path)
        if isinstance(node, SequenceNode) and node.value:
            for item in new:
                self._append(path, write_value(item))
            return True
        return self.set(path, [*(str(one) for one in held), *new])

    def _compose(self) -> Node | None:
        if self._known[0] != self.text:
            # Without libyaml, whose marks do not tell where a character stands in the text.
            try:
                self._known = (self.text, yaml.compose(self.text, Loader=yaml.BaseLoader))
            except yaml.YAMLError:
                raise UneditableError("the text cannot be taken apart") from None
        return self._known[1]

    def _find(self, path: Path) -> Node | None:
        node = self._compose()
        for index, name in enumerate(path):
            node = _child(node, name, in_list=index > 0 and path[index - 1] in _LISTS)
        return node

    def _put(self, path: Path, value: Written) -> None:
        node, table = self._find(path), self._find(path[:-1])
        written = write_value(value, flow=bool(getattr(table, "flow_style", False)))
        if node is not None:
            self._replace(path, node, written)
            return
        if len(path) > 1 and path[-2] in _LISTS:
            raise UneditableError("an entry is put with its first value")
        if len(path) == 1:
            self._add_key((), path[0], written)
            return
        holder, name = path[:-1], path[-1]
        in_list = len(path) > 2 and path[-3] in _LISTS
        found = self._find(holder)
        if isinstance(found, MappingNode):
            self._add_key(holder, name, written)
        elif in_list:
            self._add_entry(path[:-2], write_value({"id": path[-2], name: value}))
        elif found is None or (isinstance(found, ScalarNode) and not found.value):
            self._put(holder, {name: value})
        else:
            raise UneditableError(f"'{'.'.join(holder)}' holds no keys")

    def _add_entry(self, path: Path, written: str) -> None:
        node = self._find(path)
        if isinstance(node, SequenceNode) and node.value:
            self._append(path, written)
        elif node is None:
            self._insert(len(self.text.rstrip()), f"{self._newline()}{path[-1]}:")
            at = len(self.text.rstrip())
            self._insert(at, f"{self._newline()}  - {written}")
        elif _plain(node) in ("", []):
            self._replace(path, node, f"[{written}]")
        else:
            raise UneditableError(f"'{'.'.join(path)}' is no list")

    def _append(self, path: Path, written: str) -> None:
        """Put an item at the end of a list that has some."""
        node = self._find(path)
        assert isinstance(node, SequenceNode)
        end = _end(node.value[-1])
        if node.flow_style:
            self._insert(end, f", {written}")
        else:
            indent = " " * node.start_mark.column
            self._insert(self._line_end(end), f"{self._newline()}{indent}- {written}")

    def _add_key(self, path: Path, name: str, written: str) -> None:
        """Put a new key at the end of a table."""
        table = self._find(path)
        entry = f"{name}: {written}"
        if table is None:
            self.text = f"{self.text.rstrip()}{self._newline() if self.text.strip() else ''}{entry}"
            self.text += self._newline()
        elif not isinstance(table, MappingNode):
            raise UneditableError("the text holds no keys")
        elif table.flow_style and table.value:
            self._insert(_end(table.value[-1][1]), f", {entry}")
        elif table.flow_style:
            self._insert(table.start_mark.index + 1, entry)
        else:
            at = self._line_end(_end(table.value[-1][1]))
            indent = " " * table.start_mark.column
            self._insert(at, f"{self._newline()}{indent}{entry}")

    def _replace(self, path: Path, node: Node, written: str) -> None:
        """Write another value over one that stands there."""
        start, end = node.start_mark.index, _end(node)
        block = not getattr(node, "flow_style", True) or getattr(node, "style", None) in ("|", ">")
        if block:  # it stands below its key
            table = self._find(path[:-1])
            if not isinstance(table, MappingNode):
                raise UneditableError(f"'{'.'.join(path)}' is an entry of a list")
            (key,) = [key for key, _ in table.value if key.value == path[-1]]
            start = self.text.index(":", key.end_mark.index) + 1
        spaced = "" if start > 0 and self.text[start - 1] in " \n" else " "
        self.text = self.text[:start] + spaced + written + self.text[end:]

    def _cut_item(self, path: Path) -> None:
        items = self._find(path[:-1])
        if not isinstance(items, SequenceNode):
            raise UneditableError(f"'{'.'.join(path[:-1])}' is no list")
        for index, item in enumerate(items.value):
            if _id(item) == path[-1]:
                self._cut_from_list(path[:-1], items, index)

    def _cut_from_list(self, path: Path, items: SequenceNode, index: int) -> None:
        if len(items.value) == 1:
            self.remove(path)
            return
        item = items.value[index]
        start = item.start_mark.index
        if not items.flow_style:
            start = self.text.rindex("-", 0, start)
        nodes = [(one, one) for one in items.value]
        self._cut(start, _end(item), bool(items.flow_style), index, nodes)

    def _cut(
        self, start: int, end: int, flow: bool, index: int, nodes: list[tuple[Node, Node]]
    ) -> None:
        if flow and index + 1 < len(nodes):
            end = nodes[index + 1][0].start_mark.index
        elif flow and index > 0:
            start = _end(nodes[index - 1][1])
        elif not flow:
            start = self.text.rfind("\n", 0, start) + 1
            end = min(self._line_end(end) + len(self._newline()), len(self.text))
        self.text = self.text[:start] + self.text[end:]

    def _insert(self, at: int, written: str) -> None:
        self.text = self.text[:at] + written + self.text[at:]

    def _line_end(self, at: int) -> int:
        """Return where the line ends on which a value ends, its comment included."""
        found = self.text.find("\n", at)
        end = len(self.text) if found < 0 else found
        return end - 1 if end > 0 and self.text[end - 1] == "\r" else end

    def _newline(self) -> str:
        return "\r\n" if "\r\n" in self.text else "\n"


def _child(node: Node | None, name: str, *, in_list: bool) -> Node | None:
    if in_list:
        items = node.value if isinstance(node, SequenceNode) else ()
        return next((item for item in items if _id(item) == name), None)
    entries = node.value if isinstance(node, MappingNode) else ()
    return next((value for key, value in entries if key.value == name), None)


def _id(item: Node) -> str | None:
    found = _child(item, "id", in_list=False)
    return found.value if isinstance(found, ScalarNode) else None


def _end(node: Node) -> int:
    """Return where a value's last character is passed, without the comments that follow it."""
    if isinstance(node, MappingNode) and not node.flow_style and node.value:
        return _end(node.value[-1][1])
    if isinstance(node, SequenceNode) and not node.flow_style and node.value:
        return _end(node.value[-1])
    end: int = node.end_mark.index
    if isinstance(node, ScalarNode) and node.style in ("|", ">"):
        return len((node.end_mark.buffer or "")[:end].rstrip())
    return end


def _plain(node: Node) -> Plain:
    if isinstance(node, MappingNode):
        return {key.value: _plain(value) for key, value in node.value}
    if isinstance(node, SequenceNode):
        return [_plain(item) for item in node.value]
    return str(node.value)


def _as_plain(value: Written) -> Plain:
    if isinstance(value, str):
        return value
    if isinstance(value, Mapping):
        return {key: _as_plain(one) for key, one in value.items()}
    return list(value)


def _texts(node: Node, path: Path) -> Iterator[tuple[Path, str]]:
    if isinstance(node, MappingNode):
        for key, value in node.value:
            yield from _texts(value, (*path, key.value))
    elif isinstance(node, SequenceNode):
        for item in node.value:
            name = _id(item)
            if name is not None:
                yield from _texts(item, (*path, name))
    elif isinstance(node, ScalarNode):
        yield path, node.value
