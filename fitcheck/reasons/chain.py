"""How a number came about: a tree from a quantity of a kit down to what was given, each with where it comes from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from fitcheck.catalog.parts import Part
from fitcheck.catalog.schema import Path as Keys
from fitcheck.catalog.schema import node as schema_of
from fitcheck.engine.columns import STANDS_IN
from fitcheck.engine.evaluate import TOTALS
from fitcheck.engine.plan import Step
from fitcheck.engine.states import ABSENT, CANNOT, NOT_GIVEN, VALUE
from fitcheck.engine.table import METRICS
from fitcheck.engine.trains import BOTTOMED, CONTACT
from fitcheck.engine.variants import Bench
from fitcheck.errors import Place
from fitcheck.physics.pad import Foot
from fitcheck.physics.springs import Spring
from fitcheck.physics.way import Spot, Way
from fitcheck.profile import Rule


@dataclass(frozen=True)
class Figure:
    """Numbers of one kind in a value; `what` is empty where they are the value itself."""

    what: str
    numbers: tuple[float, ...]
    unit: str  # SI, as docstrings write it; - for a pure number


@dataclass(frozen=True)
class Leaf:
    """What was given: a field of a part, an assumption or a bound of the profile, or what train or trade take for granted."""

    name: str  # in the plan
    kind: str  # field, left out, not given, assumption, rule, train, job
    owner: str  # `master valley-19`, or the name of a rule
    key: str  # dotted
    value: object = None  # SI, a word, a flag, or several numbers
    dimension: str = ""
    text: object = None  # as the file writes it
    words: str = ""  # what train or trade take for granted
    place: Place | None = None
    tolerance: float | None = None  # half-width, SI
    evidence: str = ""  # of the part's entry
    source: str = ""

    @property
    def id(self) -> tuple[str, str, str]:
        """What makes two leaves the same; the name under which it is met does not."""
        return (self.kind, self.owner, self.key)


@dataclass(frozen=True)
class Node:
    """One quantity: what it is, its equation, and what went into it; `again` where that was told before."""

    name: str
    state: int
    figures: tuple[Figure, ...]
    sentence: str
    equation: str
    source: str
    lacking: tuple[str, ...] = ()  # fields that are not given, or why it cannot be computed
    inputs: tuple[Node | Leaf, ...] = ()
    again: bool = False


class Chain:
    """The numbers of one kit, each of which can be followed down to what was given."""

    def __init__(self, bench: Bench) -> None:
        """Evaluate the kit."""
        self.bench, self.values = bench, bench.values

    @cached_property
    def steps(self) -> Mapping[str, Step]:
        """The kit's plan by the name of each quantity."""
        return {step.name: step for step in self.values.plan.steps}

    @property
    def names(self) -> tuple[str, ...]:
        """Every quantity that can be asked for: metrics first, then what they rest on."""
        return (*METRICS, *sorted(self.steps.keys() - METRICS.keys()))

    def tree(self, name: str, told: set[str] | None = None, levels: int = 99) -> Node:
        """The tree of a quantity so many levels down; what stands in `told` is not told again, and this tree is added to it."""
        told = set() if told is None else told
        if name in told:
            return replace(self._node(name), again=True)
        if not levels:
            return self._node(name)
        told.add(name)
        inputs: list[Node | Leaf] = []
        for each in self.inputs(name):
            inputs += self.given(each) if each not in self.steps else [self.tree(each, told, levels - 1)]
        return replace(self._node(name), inputs=(*inputs, *self._extra(name)))

    def inputs(self, name: str) -> tuple[str, ...]:
        """What a quantity rests on: quantities and givens, in the order of its function."""
        if name in TOTALS:
            return tuple(self.values.givens.totals(name).values())
        return self.steps[name].heeded if name in self.steps else ()

    def leaves(self, name: str) -> tuple[Leaf, ...]:
        """All that a quantity rests on in the end, each once, in the order of its tree."""
        found: dict[tuple[str, str, str], Leaf] = {}
        for leaf in _leaves(self.tree(name)):
            found.setdefault(leaf.id, leaf)
        return tuple(found.values())

    # --- one quantity

    def _node(self, name: str) -> Node:
        state = self.state(name)
        known = state == VALUE and name in self.values.numbers
        figures = tuple(_figures(self.values.numbers[name], self._unit(name))) if known else ()
        step = self.steps.get(name)
        if step is None:
            return Node(name, state, figures, METRICS[name].meaning, self._sum(name), "definition" if name in TOTALS else "")
        return Node(name, state, figures, step.sentence, step.equation, step.source, self.lacking(name))

    def _sum(self, name: str) -> str:
        return f"{name} = {' + '.join(self.inputs(name)) or '0, nothing is supplied'}" if name in TOTALS else ""

    def _unit(self, name: str) -> str:
        return self.steps[name].unit if name in self.steps else METRICS[name].unit

    def state(self, name: str) -> int:
        """Whether a quantity has a value, and if not, why."""
        if name not in self.values.numbers:
            return ABSENT
        state = self.values.states[name]
        here = VALUE if state is None else int(state.reshape(-1)[0])
        number = self.values.numbers[name]
        lost = here == VALUE and name in METRICS and bool(np.isnan(np.asarray(number)).any())
        return CANNOT if lost else here

    def lacking(self, name: str) -> tuple[str, ...]:
        """Why a metric has no value: the fields that are not given, or what cannot be computed."""
        state = self.state(name)
        told = self.values.causes(name) if state == CANNOT else self.values.missing_fields(name) if state == NOT_GIVEN else ()
        return tuple(text for text, where in told if where.any())

    # --- what was given

    def given(self, name: str) -> Iterator[Leaf]:
        """The leaves that a given of the plan is made from."""
        origins = self.values.givens.origins(name)
        if not origins:
            yield Leaf(name, "train", "", name, words=self._by_the_train(name))
        leaves = [leaf for origin in origins for leaf in self._leaves_of(name, origin)]
        several = len(leaves) > 1
        for leaf in leaves:
            leaf = replace(leaf, words=f"{self.values.number(name).item():g}") if leaf.key == "action" else leaf
            yield replace(leaf, name=f"{name} {leaf.key}") if several and not _tells(name, leaf) else leaf

    def _by_the_train(self, name: str) -> str:
        if name.startswith("fork_"):
            if self.bench.train == "concentric":
                return f"{0 if name in ('fork_give', 'fork_return_force') else 1}: a concentric cylinder has no fork"
            return "0: a slave that rests in contact has no return spring at its fork"
        return "0: no rule that rejects asks for more"

    def _leaves_of(self, name: str, origin: str) -> Iterator[Leaf]:
        head, _, key = origin.partition(".")
        if head == "assumptions":
            yield self._assumption(name, key)
        elif head == "rules":
            yield _bound(name, next(rule for rule in self.bench.profile.rules if rule.name == key))
        else:
            yield from self._fields(name, self._part(head), origin)

    def _part(self, family: str) -> Part:
        part = self.values.givens.linkage if family == "linkage" else self.bench.parts[family]
        assert part is not None  # the plan was given something of it
        return part

    def _fields(self, name: str, part: Part, origin: str) -> Iterator[Leaf]:
        keys = list(_written_out(part, origin.partition(".")[2]))
        if keys:
            yield from (_field(name, part, key) for key in keys)
            return
        owner, key = f"{part.family} {part.id}", origin.partition(".")[2]
        instead = STANDS_IN.get(origin) or STANDS_IN.get(".".join(origin.split(".")[:2]), "")
        if instead.split(".")[0] == part.family:
            yield from self._fields(name, part, instead)
        elif instead:
            yield Leaf(name, "left out", owner, key, words=instead, place=part.place)
        elif "*" not in key:  # pieces of a line that have no such number add nothing
            yield Leaf(name, "not given", owner, key, place=part.place)

    def _assumption(self, name: str, key: str) -> Leaf:
        profile = self.bench.profile
        written, spec = profile.written.get(key), schema_of("profile", ("assumptions", key), {})
        text, place = (written.text, written.place) if written else (None, None)
        value = getattr(profile.assumptions, key)
        return Leaf(name, "assumption", "profile", key, value, spec.get("x-dimension", "ratio"), text, place=place)

    def _extra(self, name: str) -> Iterator[Leaf]:
        """What decides which equation counts, and what is summed up."""
        if self.bench.train == "external" and name in self._by_rest:
            words = {"contact": "above 0: it rests in contact", "bottomed": "0: it rests bottomed"}[self.values.tile.rest]
            yield replace(_field("slave_preload", self.bench.parts["slave"], "preload"), words=words)
        if name in TOTALS:
            job = self.bench.job
            place = Place(str(job.path)) if job.path else None
            yield Leaf("supplied", "job", "", "supplied", self.values.givens.context.supplied, place=place)

    @property
    def _by_rest(self) -> Mapping[str, str]:
        return CONTACT if self.values.tile.rest == "contact" else BOTTOMED


def _tells(name: str, leaf: Leaf) -> bool:
    """Whether the name in the plan says which of the fields it is."""
    return name.endswith(leaf.key.rpartition(".")[2])


def _written_out(part: Part, key: str) -> Iterator[str]:
    """The dotted keys that the part gives: one for each member where the key has a `*`, and for each key of a table."""
    before, star, after = key.partition(".*")
    value = part.at(before)
    if star:
        yield from (each for row in range(len(value or ())) if part.at(each := f"{before}.{row}{after}") is not None)
    elif isinstance(value, Mapping):
        yield from (f"{key}.{below}" for below in value)
    elif value is not None:
        yield key


def _field(name: str, part: Part, key: str) -> Leaf:
    reached, text = part.said(key)
    return Leaf(
        name,
        "field",
        f"{part.family} {part.id}",
        key,
        part.at(key),
        str(spec_of(part, key).get("x-dimension", "")),
        text if reached == key else None,
        place=part.placed(key),
        tolerance=part.tolerances.get(key, part.tolerances.get(reached)),
        evidence=str(part.values.get("evidence", "")),
        source=str(part.values.get("source", "")),
    )


def spec_of(part: Part, key: str) -> dict[str, Any]:
    """What the schema says of a number of a part: its dimension and bounds; a member of a list has those of its list."""
    steps: Keys = tuple(int(step) if step.isdigit() else step for step in key.split("."))
    values = part.texts or _as_read(part.values)
    around = (schema_of(part.family, steps[:length], values) for length in range(len(steps), 0, -1))
    return next((spec for spec in around if "x-dimension" in spec), {})


def _as_read(value: Any) -> Any:
    """Values as a file would hold them, for a part that comes from none."""
    if isinstance(value, Mapping):
        return {key: _as_read(below) for key, below in value.items()}
    return [_as_read(below) for below in value] if isinstance(value, tuple) else value


def _bound(name: str, rule: Rule) -> Leaf:
    """The bound of a rule that a set-up figure keeps away from."""
    value, dimension = rule.upper if rule.metric == "overtravel" else rule.lower, METRICS[rule.metric].dimension
    return Leaf(name, "rule", rule.name, rule.metric, value, dimension, place=rule.place, source=rule.source)


def _leaves(tree: Node | Leaf) -> Iterator[Leaf]:
    if isinstance(tree, Leaf):
        yield tree
    else:
        for each in tree.inputs:
            yield from _leaves(each)


def _figures(value: Any, unit: str) -> Iterator[Figure]:
    """The numbers of a value; of a record those that a reader can picture."""
    if isinstance(value, Spot):
        yield from (_figure("travel", value.travel, "m"), _figure("load", value.load, "N"))
        yield _figure("pressure", value.pressure, "Pa")
    elif isinstance(value, Spring | Way):
        yield from (_figure("load up to", np.max(value.load), "N"), _figure("travel up to", np.max(value.travel), "m"))
        yield from (_figure("fluid up to", np.max(value.volume), "m3"),) if isinstance(value, Way) else ()
    elif isinstance(value, Foot):
        yield from (_figure("force per pressure", value.per_signal, "N/Pa"), _figure("force without pressure", value.rest, "N"))
    elif isinstance(value, tuple):
        yield Figure("", tuple(number for each in value for number in _numbers(each)), unit)
    elif isinstance(value, np.ndarray | float | int | np.floating):
        yield _figure("", value, unit)


def _figure(what: str, value: Any, unit: str) -> Figure:
    return Figure(what, _numbers(value), unit)


def _numbers(value: Any) -> tuple[float, ...]:
    return tuple(np.asarray(value, float).reshape(-1).tolist())
