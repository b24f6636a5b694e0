"""What the grammar of TOML 1.0 says of a text: whether it is sound, where it breaks, and which lines go on.

The parser of values takes what later versions of TOML allow as well, and stops at the first fault; a syntax tree does neither.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import tree_sitter_toml
from tree_sitter import Language, Node, Parser, Tree

Spot = tuple[int, int]  # line and column, both from 1, the column in characters


@cache
def _parser() -> Parser:
    """The parser for TOML 1.0, made once."""
    return Parser(Language(tree_sitter_toml.language()))


class Grammar:
    """The syntax tree of a text."""

    def __init__(self, text: str) -> None:
        """Parse the text, whatever it is."""
        data = text.encode()
        self._lines = data.split(b"\n")
        self._tree: Tree = _parser().parse(data)

    @property
    def sound(self) -> bool:
        """Whether the text is TOML 1.0."""
        return not self._tree.root_node.has_error

    def faults(self) -> list[Spot]:
        """Where the grammar breaks, in order."""
        return sorted(self._spot(node) for node in _broken(self._tree.root_node))

    def continued_lines(self) -> Iterator[range]:
        """The lines, counted from 1, on which a sound value goes on that began on an earlier line."""
        stack = [self._tree.root_node]
        while stack:
            node = stack.pop()
            if node.has_error or node.type in ("document", "table", "table_array_element"):
                stack.extend(node.children)
            elif node.end_point.row > node.start_point.row:
                yield range(node.start_point.row + 2, node.end_point.row + 2)

    def _spot(self, node: Node) -> Spot:
        """Line and column of a node: the tree counts bytes, people count characters."""
        row, column = node.start_point
        return row + 1, len(self._lines[row][:column].decode(errors="replace")) + 1


def _broken(root: Node) -> Iterator[Node]:
    """The nodes that stand for a fault of syntax."""
    stack = [root]
    while stack:
        node = stack.pop()
        if node.is_error or node.is_missing:
            yield node
        elif node.has_error:
            stack.extend(node.children)
