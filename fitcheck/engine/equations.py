"""The equation of a quantity on one line: read from its own source where that is plain arithmetic, else from its docstring."""

from __future__ import annotations

import ast
import inspect
import re
import textwrap
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

_WORDS = {"np.maximum": "max", "np.minimum": "min", "np.abs": "abs", "np.sin": "sin", "np.ceil": "ceil"}
_NAMES = {"np.pi": "pi", "np.nan": "none", "np.inf": "infinite"}
_PART = 4  # letters from which on the end of a name stands for the name


class NotPlain(Exception):
    """The function does more than arithmetic on one line would say."""


@cache
def right_side(function: Callable[..., Any]) -> str:
    """What stands after the equals sign; empty where there is neither plain arithmetic nor an `Equation:` in the docstring."""
    return written(function) or derived(function)


def written(function: Callable[..., Any]) -> str:
    """The docstring's paragraph that begins with `Equation:`, on one line."""
    found = re.search(r"^\s*Equation: (.*?)(?:\n\s*\n|\Z)", function.__doc__ or "", re.MULTILINE | re.DOTALL)
    return " ".join(found[1].split()) if found else ""


def derived(function: Callable[..., Any]) -> str:
    """The equation in the function's own source, its locals put in place; empty where that is no plain arithmetic."""
    tree = ast.parse(textwrap.dedent(inspect.getsource(function))).body[0]
    assert isinstance(tree, ast.FunctionDef)
    try:
        return _tidy(ast.unparse(_Plain(_inlined(tree), function.__globals__).visit(_result(tree))))
    except NotPlain:
        return ""


def unit_of(function: Callable[..., Any]) -> str:
    """The SI unit of what a function returns, from its docstring."""
    found = re.search(r"Returns\n\s*-+\n.*?\[([^\]]+)\]", function.__doc__ or "", re.DOTALL)
    return found[1] if found else ""


def named(equation: str, inputs: tuple[str, ...]) -> tuple[str, ...]:
    """Those of a function's inputs that its equation names, in full or by their last words."""
    words = {word for word in re.findall(r"\w+", equation) if not word.isdigit()}
    ends = tuple(f"_{word}" for word in words if len(word) >= _PART)
    return tuple(name for name in inputs if name in words or name.endswith(ends))


def _statements(body: list[ast.stmt]) -> list[ast.stmt]:
    """The statements one after the other, `with` taken as what it holds; the docstring left out."""
    flat: list[ast.stmt] = []
    for statement in body:
        if isinstance(statement, ast.With):
            flat += _statements(statement.body)
        elif not (isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant)):
            flat.append(statement)
    return flat


def _inlined(tree: ast.FunctionDef) -> Mapping[str, ast.expr]:
    """The locals of a function that only assigns names and returns."""
    found: dict[str, ast.expr] = {}
    for statement in _statements(tree.body)[:-1]:
        target = statement.targets[0] if isinstance(statement, ast.Assign) else getattr(statement, "target", None)
        value = getattr(statement, "value", None)
        if not isinstance(statement, ast.Assign | ast.AnnAssign) or not isinstance(target, ast.Name) or value is None:
            raise NotPlain
        found[target.id] = value
    return found


def _result(tree: ast.FunctionDef) -> ast.expr:
    last = _statements(tree.body)[-1]
    if not isinstance(last, ast.Return) or last.value is None:
        raise NotPlain
    return last.value


class _Plain(ast.NodeTransformer):
    """Numpy's words turned into those of a formula; whatever else is called is not plain."""

    def __init__(self, inlined: Mapping[str, ast.expr], known: Mapping[str, Any]) -> None:
        self.inlined, self.known = inlined, known

    def visit_Name(self, node: ast.Name) -> ast.expr:
        """A local's own expression, a constant's number, or the name itself."""
        if node.id in self.inlined and self.inlined[node.id] is not node:
            return self.visit(self.inlined[node.id])  # type: ignore[no-any-return]
        known = self.known.get(node.id)
        return ast.Constant(known) if isinstance(known, float) else node

    def visit_Attribute(self, node: ast.Attribute) -> ast.expr:
        """One of numpy's constants in words, or a member of a record."""
        whole = ast.unparse(node)
        return ast.Name(_NAMES[whole]) if whole in _NAMES else node

    def visit_Call(self, node: ast.Call) -> ast.expr:
        """The plain word for what is called."""
        word = ast.unparse(node.func)
        if word == "np.zeros_like":
            return ast.Constant(0)
        if word == "np.where":
            test, chosen, other = (self.visit(each) for each in node.args)
            return ast.IfExp(test, chosen, other)
        if word not in _WORDS:
            raise NotPlain
        arguments = [self.visit(each) for each in node.args]
        return ast.Call(ast.Name(_WORDS[word]), _flat(_WORDS[word], arguments), [])


def _flat(word: str, arguments: list[ast.expr]) -> list[ast.expr]:
    """The least of the least of some and another is the least of all."""
    found: list[ast.expr] = []
    for each in arguments:
        same = isinstance(each, ast.Call) and ast.unparse(each.func) == word and word in ("max", "min")
        found += each.args if same else [each]  # type: ignore[attr-defined]
    return found


def _tidy(text: str) -> str:
    """Whole numbers without decimals, and powers as people type them."""
    return re.sub(r"\b(\d+)\.0\b", r"\1", text).replace(" ** ", "^")
