"""Where in a TOML file a key stands: a syntax tree beside the values, built only when somebody asks."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache, cached_property
from typing import Literal

import tomli
import tree_sitter_toml
from tree_sitter import Language, Node, Parser, Tree

Path = tuple[str | int, ...]
Spot = tuple[int, int]  # line and column, both from 1, the column in characters

_TABLES = ("table", "table_array_element")
_KEYS = ("bare_key", "quoted_key")


@cache
def _parser() -> Parser:
    """The parser for TOML 1.0, made once."""
    return Parser(Language(tree_sitter_toml.language()))


class Positions:
    """The places of all keys and values of one text, and of what the grammar of TOML 1.0 does not know."""

    def __init__(self, text: str) -> None:
        """Parse the text; the places of keys are gathered at the first question."""
        self._data = text.encode()
        self._lines = self._data.split(b"\n")
        self._tree: Tree = _parser().parse(self._data)
        self._waiting: dict[Path, list[Node]] = {}  # what stands in tables, and nobody has asked about

    @property
    def sound(self) -> bool:
        """Whether the text is TOML 1.0 by its grammar."""
        return not self._tree.root_node.has_error

    def faults(self) -> list[Spot]:
        """Where the grammar breaks, in order."""
        return sorted(self._spot(node) for node in _broken(self._tree.root_node))

    def continued_lines(self) -> Iterator[range]:
        """The lines, counted from 1, on which a sound value goes on that began on an earlier line."""
        stack = [self._tree.root_node]
        while stack:
            node = stack.pop()
            if node.has_error or node.type in ("document", *_TABLES):
                stack.extend(node.children)
            elif node.end_point.row > node.start_point.row:
                yield range(node.start_point.row + 2, node.end_point.row + 2)

    def find(self, path: Path, of: Literal["key", "value"] = "key") -> Spot:
        """The place of a key or its value; for one that is not there, its nearest ancestor's; for none, the top of the file."""
        if path not in self._index:
            for length, step in enumerate(path):
                self._gather(path[:length], str(step))
        while path not in self._index:
            if not path:
                return 1, 1
            path = path[:-1]
        return self._spot(self._index[path][0 if of == "key" else 1])

    def paths(self) -> set[Path]:
        """All the paths that have a place."""
        for prefix in ((), *self._headers[1]):
            self._gather(prefix, "")
        return set(self._index)

    def _spot(self, node: Node) -> Spot:
        """Line and column of a node: the tree counts bytes, people count characters."""
        row, column = node.start_point
        return row + 1, len(self._lines[row][:column].decode(errors="replace")) + 1

    def _gather(self, prefix: Path, key: str) -> None:
        """Note what stands in a table under the keys that begin so, or may do so, being quoted."""
        beginnings = (key.encode(), b'"', b"'")
        waiting, self._waiting[prefix] = self._pairs(prefix), []
        for node in waiting:
            if self._data.startswith(beginnings, node.start_byte):
                _add_value(prefix, node, self._index)
            else:
                self._waiting[prefix].append(node)

    def _pairs(self, prefix: Path) -> list[Node]:
        """What is waiting in a table; of a large catalog few are ever asked about."""
        if prefix not in self._waiting:
            self._waiting[prefix] = [node for table in self._headers[1].get(prefix, ()) for node in table.named_children[1:]]
        return self._waiting[prefix]

    @property
    def _index(self) -> dict[Path, tuple[Node, Node]]:
        """Key and value node of each path known so far."""
        return self._headers[0]

    @cached_property
    def _headers(self) -> tuple[dict[Path, tuple[Node, Node]], dict[Path, list[Node]]]:
        """The paths of all headers, and the tables that they open.

        The newest element of an array of tables is the one that later headers step into.
        """
        index: dict[Path, tuple[Node, Node]] = {}
        counts: dict[Path, int] = {}
        tables: dict[Path, list[Node]] = {}
        for node in self._tree.root_node.named_children:
            if node.type == "pair":
                self._waiting.setdefault((), []).append(node)
            elif node.type in _TABLES:
                tables.setdefault(_add_header(node, index, counts), []).append(node)
        return index, tables


def _broken(root: Node) -> Iterator[Node]:
    """The nodes that stand for a fault of syntax."""
    stack = [root]
    while stack:
        node = stack.pop()
        if node.is_error or node.is_missing:
            yield node
        elif node.has_error:
            stack.extend(node.children)


def _add_header(table: Node, index: dict[Path, tuple[Node, Node]], counts: dict[Path, int]) -> Path:
    """Note the keys of a header; the path of the table that it opens."""
    nodes = _key_nodes(table)
    path: Path = ()
    for node in nodes[:-1]:
        path = (*path, _key_text(node))
        index.setdefault(path, (node, node))
        path = (*path, counts[path] - 1) if path in counts else path
    last = nodes[-1]
    path = (*path, _key_text(last))
    if table.type == "table":
        index[path] = (last, table)
        return path
    index.setdefault(path, (last, table))
    counts[path] = counts.get(path, 0) + 1
    path = (*path, counts[path] - 1)
    index[path] = (last, table)
    return path


def _add_value(prefix: Path, node: Node, index: dict[Path, tuple[Node, Node]]) -> None:
    """Note a pair and everything inside its value."""
    stack = [(prefix, node)]
    while stack:
        path, node = stack.pop()
        if node.type == "pair":
            nodes = _key_nodes(node)
            value = node.named_children[1]
            for part in nodes[:-1]:
                path = (*path, _key_text(part))
                index.setdefault(path, (part, part))
            path = (*path, _key_text(nodes[-1]))
            index[path] = (nodes[-1], value)
            node = value
        elif node.type != "comment" and path:
            index.setdefault(path, (node, node))
        stack.extend(_inside(path, node))


def _inside(path: Path, value: Node) -> Iterator[tuple[Path, Node]]:
    """The pairs of an inline table, or the items of an array with their paths."""
    children = [child for child in value.named_children if child.type != "comment"]
    if value.type == "inline_table":
        yield from ((path, child) for child in children)
    elif value.type == "array":
        yield from (((*path, number), child) for number, child in enumerate(children))


def _key_nodes(owner: Node) -> list[Node]:
    """The parts of the key of a pair or a header from left to right; dotted keys nest to the left."""
    key = owner.child(0 if owner.type == "pair" else 1)  # a header begins with its bracket
    nodes = []
    while key is not None and key.type not in _KEYS:
        nodes.append(key.named_children[-1])
        key = key.child(0)
    return [*([] if key is None else [key]), *reversed(nodes)]


def _key_text(node: Node) -> str:
    """What a key says."""
    text = (node.text or b"").decode()
    return text if node.type == "bare_key" else next(iter(tomli.loads(f"{text} = 0")))
