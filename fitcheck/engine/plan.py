"""The plan of metrics: which function gives which quantity, from what, in what order.

A quantity is a pure function whose argument names are columns, assumptions or other quantities. The world is closed: an
unknown name, a clash, a circle or a given that nothing uses is an error when the plan is built.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from typing import Any

from fitcheck.engine.equations import named, right_side, unit_of
from fitcheck.errors import FitcheckError


class PlanError(FitcheckError):
    """The functions do not make a closed plan; the message says where and names near matches."""


@dataclass(frozen=True)
class Step:
    """One quantity: its function and the names it is computed from."""

    name: str
    function: Callable[..., Any]
    inputs: tuple[str, ...]

    @property
    def source(self) -> str:
        """The line of the function's docstring that names where its equation is from."""
        lines = (self.function.__doc__ or "").splitlines()
        return next((line.strip().removeprefix("Source: ") for line in lines if "Source: " in line), "")

    @property
    def equation(self) -> str:
        """Its equation on one line."""
        return f"{self.name} = {right_side(self.function)}"

    @property
    def heeded(self) -> tuple[str, ...]:
        """The inputs that its value rests on; one that only lends its shape, or is met under another name, is left out."""
        return named(right_side(self.function), self.inputs)

    @property
    def unit(self) -> str:
        """The SI unit of its value; SI alone for a record."""
        return unit_of(self.function)

    @property
    def sentence(self) -> str:
        """What the function's docstring says first, on one line."""
        return " ".join((self.function.__doc__ or "").strip().partition("\n\n")[0].split())


@dataclass(frozen=True)
class Plan:
    """Steps in an order in which each finds its inputs, and the names that must be given."""

    steps: tuple[Step, ...]
    givens: frozenset[str]

    def step(self, name: str) -> Step:
        """The step of that name."""
        return next(step for step in self.steps if step.name == name)

    def for_names(self, names: Collection[str]) -> tuple[Step, ...]:
        """Only the steps that those names need, in order."""
        needed = set(names)
        for step in reversed(self.steps):
            if step.name in needed:
                needed.update(step.inputs)
        return tuple(step for step in self.steps if step.name in needed)

    def ancestors(self, name: str) -> frozenset[str]:
        """Every step and given that a name rests on, itself included."""
        found = {name}
        for step in reversed(self.steps):
            if step.name in found:
                found.update(step.inputs)
        return frozenset(found)

    def __str__(self) -> str:
        """One line a step, for people."""
        return "\n".join(f"{step.name} <- {', '.join(step.inputs)}" for step in self.steps)


@cache
def arguments(function: Callable[..., Any]) -> tuple[str, ...]:
    """Names of what a function is given."""
    return tuple(inspect.signature(function).parameters)


def build_plan(functions: Mapping[str, Callable[..., Any]], givens: Collection[str], unused_fine: Collection[str] = ()) -> Plan:
    """Order the functions of a closed world; raises PlanError for an unknown name, a clash, a circle or an unused given."""
    for name in sorted(set(functions) & set(givens)):
        raise PlanError(f"{_where(functions[name])} and a given are both named `{name}`; rename one of them")
    wanted = {name: arguments(function) for name, function in functions.items()}
    for name, inputs in wanted.items():
        for argument in inputs:
            if argument not in functions and argument not in givens:
                near = ", ".join(get_close_matches(argument, [*functions, *givens], 3)) or "nothing near it"
                raise PlanError(f"{_where(functions[name])} asks for `{argument}`, which nothing gives; there is {near}")
    used = {argument for inputs in wanted.values() for argument in inputs}
    for name in sorted(set(givens) - used - set(unused_fine)):
        raise PlanError(f"`{name}` is given and nothing uses it")
    return Plan(tuple(_ordered(functions, wanted)), frozenset(givens))


def _ordered(functions: Mapping[str, Callable[..., Any]], wanted: Mapping[str, tuple[str, ...]]) -> list[Step]:
    done: dict[str, Step] = {}
    waiting: list[str] = []

    def visit(name: str) -> None:
        if name in waiting:
            circle = " <- ".join([*waiting[waiting.index(name) :], name])
            raise PlanError(f"quantities rest on each other in a circle: {circle}")
        if name in done or name not in functions:
            return
        waiting.append(name)
        for argument in wanted[name]:
            visit(argument)
        waiting.pop()
        done[name] = Step(name, functions[name], wanted[name])

    for name in sorted(functions):
        visit(name)
    return list(done.values())


def _where(function: Callable[..., Any]) -> str:
    code = getattr(function, "__code__", None)
    return f"{function.__module__}.{function.__name__} (line {code.co_firstlineno})" if code else repr(function)
