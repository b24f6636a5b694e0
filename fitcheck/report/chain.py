"""How a number came about, and how a kit stands: trees and lists for a terminal."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from fitcheck.engine.states import ABSENT, CANNOT, STATE_WORDS
from fitcheck.engine.table import METRICS
from fitcheck.errors import Place
from fitcheck.profile import Rule
from fitcheck.quantities import UNITS, to_unit
from fitcheck.reasons.chain import Figure, Leaf, Node
from fitcheck.reasons.standing import BROKEN, KEPT, NEEDED, NOWHERE, UNKNOWN, Footing, RuleLine, Standing
from fitcheck.report import words
from fitcheck.report.judgement import verdict_text
from fitcheck.report.outline import WIDTH, Item, items, wrapped
from fitcheck.report.view import setup_texts

MOST_POINTS = 7  # of a list of numbers
LONG = 1e9  # from which on numbers have an exponent
ROUNDED, AS_GIVEN = 4, 10  # digits of what was computed, and of what was given and has no text of its own
_ELSEWHERE = re.compile(r"\b(in|ft|thou|lbf?|psi|ksi|kgf|degF|in2|in3)\b")  # units of which not everybody has a picture

# The trade's unit for each SI unit that a docstring names; others are shown as they are.
SHOWN = {
    "-": "",
    "m": "mm",
    "m2": "mm2",
    "m3": "mL",
    "Pa": "bar",
    "rad": "deg",
    "m/N": "mm/kN",
    "m3/Pa": "mL/bar",
    "1/m2": "bar/kN",
    "N/Pa": "N/bar",
    "N/m": "N/mm",
    "m2/s": "mm2/s",
    "Pa s": "mPa s",
}


# --- a tree

Told = set[tuple[str, str, str]]  # the leaves that were told
Seen = Callable[[str], str]  # how a file is named


@dataclass(frozen=True)
class Twig:
    """What was given, in words."""

    name: str
    value: str
    origin: str  # whose it is, where it stands, and what kind of source that has


@dataclass(frozen=True)
class Branch:
    """One quantity of a tree in words, and what went into it."""

    name: str
    value: str
    equation: str  # its right side
    meaning: str  # with where the equation is from
    whys: tuple[str, ...]  # there is no value
    items: tuple[Branch | Twig, ...]
    again: str  # what went into it that was told above


def tree_lines(tree: Node, told: Told) -> Iterator[str]:
    """A whole tree from the top down, each quantity with what it is and where its equation is from."""
    return _branch_lines(branch(tree, told, set()), "", full=True)


def short_lines(tree: Node, leaves: Iterable[Leaf], told: Told) -> Iterator[str]:
    """The upper levels of a tree, then by part all the other `leaves` that it rests on; those `told` before are left out."""
    top, owners = short_form(tree, leaves, told)
    yield from _branch_lines(top, "", full=False)
    yield from (f"  from {text}" for text in owners)


def short_form(tree: Node, leaves: Iterable[Leaf], told: Told, seen: Seen = str) -> tuple[Branch, tuple[str, ...]]:
    """The upper levels of a tree, and a text for each part or file of what else it rests on that was not `told` before."""
    top = branch(tree, told, set(), seen)
    below = [leaf for leaf in leaves if leaf.id not in told]
    told.update(leaf.id for leaf in below)
    return top, tuple(_by_owner(below, seen))


def branch(node: Node, told: Told, named: set[str], seen: Seen = str) -> Branch:
    """A tree in words; leaves that were `told`, and quantities that were `named`, are only mentioned."""
    items: list[Branch | Twig] = []
    again: dict[str, None] = {}
    for each in node.inputs:
        if isinstance(each, Node) and not each.again and each.name not in named:
            named.add(each.name)
            items.append(branch(each, told, named, seen))
        elif isinstance(each, Leaf) and each.id not in told:
            told.add(each.id)
            items.append(_twig(each, seen))
        else:
            again[f"{each.name} {_briefly(each)}".rstrip()] = None
    equation, meaning = node.equation.partition(" = ")[2], f"{words.sentence(node.sentence)} {_sourced(node.source)}".rstrip()
    mentioned = f"and, told above: {', '.join(again)}" if again else ""
    return Branch(node.name, node_value(node), equation, meaning, tuple(_whys(node)), tuple(items), mentioned)


def _branch_lines(one: Branch, indent: str, full: bool) -> Iterator[str]:
    yield from _headline(one, indent)
    if full:
        yield from wrapped(one.meaning, f"{indent}    | ")
    yield from (f"{indent}    {text}" for text in one.whys)
    for each in one.items:
        if isinstance(each, Branch):
            yield from _branch_lines(each, f"{indent}  ", full)
        else:
            yield f"{indent}  {each.name} {each.value}".rstrip() + (f": {each.origin}" if each.origin else "")
    if one.again:
        yield f"{indent}  {one.again}"


def _briefly(item: Node | Leaf) -> str:
    if isinstance(item, Node):
        return node_value(item) if len(item.figures) == 1 else ""
    return item.words.partition(":")[0] if item.kind == "train" else leaf_value(replace(item, words=""))


def _by_owner(leaves: Iterable[Leaf], seen: Seen) -> Iterator[str]:
    """One text for each part or file: what of it went into the number."""
    groups: dict[tuple[str, str], dict[tuple[str, str, str], Leaf]] = {}
    for leaf in leaves:
        if leaf.kind != "train":
            groups.setdefault((_whose(leaf), leaf.place.file if leaf.place else ""), {})[leaf.id] = leaf
    for (owner, file), some in groups.items():
        lines = sorted({leaf.place.line for leaf in some.values() if leaf.place})
        spots = [f"{seen(file)}:{lines[0]}{f'-{lines[-1]}' if len(lines) > 1 else ''}"] if file and lines else []
        kinds = dict.fromkeys(leaf.evidence or "no evidence given" for leaf in some.values() if leaf.kind == "field")
        where = ", ".join([*spots, *kinds])
        told = ", ".join(f"{leaf.key} {leaf_value(leaf)}".rstrip() for leaf in some.values())
        yield f"{owner}{f' ({where})' if where else ''}: {told}"


def _headline(one: Branch, indent: str) -> Iterator[str]:
    """Name, value and equation; the equation on a line of its own where they would be too long together."""
    left, right = f"{indent}{one.name} {one.value}".rstrip(), one.equation
    if right and len(left) + len(right) + 3 > WIDTH:
        yield from (left, f"{indent}    = {right}")
    else:
        yield f"{left} = {right}" if right else left


def _whys(node: Node) -> Iterator[str]:
    if node.lacking and node.state == CANNOT:
        yield f"cannot be computed: {'; '.join(node.lacking)}"
    elif node.lacking:
        yield f"give {', '.join(node.lacking)} in the catalog"


def _sourced(source: str) -> str:
    return f"({source.rstrip('.')})" if source else ""


# --- values


def node_value(node: Node) -> str:
    """The value of a quantity in the trade's unit, or why there is none."""
    if node.state:
        blank = METRICS[node.name].blank_where if node.name in METRICS else ""
        return f"{STATE_WORDS[node.state]}{f', {blank}' if node.state == ABSENT and blank else ''}"
    if node.name in METRICS and node.figures:
        return words.figure(METRICS[node.name], node.figures[0].numbers[0])
    told = [f"{figure.what} {_points(figure)}".lstrip() for figure in node.figures]
    return f"({'; '.join(told)})" if len(told) > 1 else "".join(told)


def _points(figure: Figure) -> str:
    return _list(figure.numbers, SHOWN.get(figure.unit, figure.unit))


def _list(numbers: Sequence[float], unit: str, digits: int = ROUNDED) -> str:
    """Numbers in a unit; of many the first and the last."""
    texts = [_digits(float(to_unit(number, unit)), digits) for number in numbers]
    if len(texts) > MOST_POINTS:
        texts = [*texts[: MOST_POINTS - 2], "...", texts[-1]]
    return f"{', '.join(texts)} {unit}".rstrip()


def _digits(number: float, digits: int) -> str:
    """A number without an exponent as long as whole numbers can be read."""
    text = f"{number:.0f}" if 10.0**digits <= abs(number) < LONG else f"{number:.{digits}g}"
    return {"inf": "infinite", "-inf": "minus infinite", "-0": "0"}.get(text, text)


def leaf_value(leaf: Leaf) -> str:
    """What was given, as the file writes it, and in the trade's unit where that is another."""
    if leaf.words:
        said = leaf.value if isinstance(leaf.value, str) else leaf.text
        return f"({leaf.words})" if said is None else f"{said} ({leaf.words})"
    value, unit = leaf.value, UNITS.get(leaf.dimension, ("",))[0]
    if leaf.kind == "not given":
        return STATE_WORDS[2]
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return {True: "yes", False: "no", None: ""}.get(value, str(value))  # type: ignore[arg-type]
    if isinstance(value, tuple):
        return _list(value, unit, AS_GIVEN) if leaf.dimension else ", ".join(map(str, value))
    told = _list((float(value),), unit, AS_GIVEN if leaf.text is None else ROUNDED)  # type: ignore[arg-type]
    if leaf.text is None:
        return told
    return f"{leaf.text} ({told})" if _ELSEWHERE.search(str(leaf.text)) else str(leaf.text)


def _twig(leaf: Leaf, seen: Seen) -> Twig:
    family, _, identifier = leaf.owner.partition(" ")
    plain = leaf.kind == "field" and leaf.name == f"{family}_{leaf.key}"
    with_key = leaf.kind in ("field", "left out", "not given") and not leaf.name.endswith(f" {leaf.key}")
    whose = identifier if plain else "assumed by the profile" if leaf.kind == "assumption" else _whose(leaf, with_key)
    left_out = "left out in the catalog" if leaf.kind == "left out" else ""
    where = _spot(leaf.place, seen) if leaf.place else ""
    evidence = (leaf.evidence or "no evidence given") if leaf.kind == "field" else ""
    return Twig(leaf.name, leaf_value(leaf), ", ".join(text for text in (whose, left_out, where, evidence) if text))


def _spot(place: Place, seen: Seen) -> str:
    return f"{seen(place.file)}:{place.line}"


def _whose(leaf: Leaf, with_key: bool = False) -> str:
    known = {"assumption": "assumptions of the profile", "rule": f"the rule {leaf.owner}", "job": "the job", "train": ""}
    return known.get(leaf.kind, f"{leaf.owner} {leaf.key}" if with_key else leaf.owner)


# --- how a kit stands


def verdict_lines(standing: Standing) -> Iterator[str]:
    """The kit, its verdict, its set-up; for a kit that is not legal, what does not meet."""
    yield standing.kit
    if standing.table is not None:
        yield f"  {verdict_text(standing.table)}"
        yield f"  set-up: {', '.join(setup_texts(standing.table, 0))}"
        yield from (f"  {words.remark(remark)}" for remark in standing.table.remarks[0])
    for text in standing.unmet.sentences if standing.unmet else ():
        yield from wrapped(f"not legal: {words.sentence(text)}", "  ")
    for fit in standing.fits:
        yield from wrapped(f"{fit.name}: {words.sentence(fit.reason)} Remedy: {words.sentence(fit.remedy)}", "  ")
    if standing.unmet:
        yield "  Its figures below are what they would be, could the parts be put together."


def footing_lines(footing: Footing) -> Iterator[str]:
    """What the verdict rests on that is remembered, assumed or made up; a line says so where there is nothing."""
    for head in footing_outline(footing):
        yield head.text
        for one in head.below:
            yield from wrapped(one.text, "  ")


def footing_outline(footing: Footing, seen: Seen = str) -> tuple[Item, ...]:
    """What the verdict rests on; nothing where it rests on no figure."""
    head = f"The verdict rests on {', '.join(footing.metrics)}, and {'that' if len(footing.metrics) == 1 else 'those'} on"
    return (Item(head, items(_footing_texts(footing, seen))),) if footing.metrics else ()


def _footing_texts(footing: Footing, seen: Seen) -> list[str]:
    kinds: dict[str, list[str]] = {}
    for part, evidence in footing.entries:
        named = f"{part.family} {part.id} ({_spot(part.place, seen)})"
        kinds.setdefault(evidence or "entries that do not say their evidence", []).append(named)
    told = [f"{_EVIDENCE.get(kind, kind)}: {', '.join(some)}" for kind, some in sorted(kinds.items())]
    if footing.assumptions:
        told.append(f"assumptions of the profile: {', '.join(_assumed(leaf, seen) for leaf in footing.assumptions)}")
    if footing.rules:
        told.append(f"bounds that have no source: {', '.join(rule.name for rule in footing.rules)}")
    return told or ["published, measured or makers' figures only"]


_EVIDENCE = {"invented": "invented entries", "memory": "entries from memory", "practice": "entries by common practice"}


def _assumed(leaf: Leaf, seen: Seen) -> str:
    where = f" ({_spot(leaf.place, seen)})" if leaf.place else ""
    return f"{leaf.key} {leaf_value(leaf)}{where}"


def rule_lines(lines: Iterable[RuleLine], kinds: Sequence[str] = ()) -> Iterator[str]:
    """Rules with value, bound and headroom, each with its reason and source; of broken ones the remedy too."""
    for line in lines:
        if not kinds or line.kind in kinds:
            head, text = rule_texts(line)
            yield f"  {head}"
            yield from wrapped(text, "      ")


def kept_lines(lines: Sequence[RuleLine]) -> Iterator[str]:
    """A line for each rule that is kept, and where it stands; then the rules on figures that this kind of kit does not have."""
    for line in lines:
        if line.kind == KEPT:
            where = f", {line.rule.place.file}:{line.rule.place.line}" if line.rule and line.rule.place else ""
            yield f"  {_rule_head(line)}{where}"
    absent = [line.name for line in lines if line.kind == NOWHERE]
    if absent:
        yield from wrapped(f"on figures that this kit does not have: {', '.join(absent)}", "  ")


def rule_texts(line: RuleLine, seen: Seen = str) -> tuple[str, str]:
    """What a rule finds and asks; then its reason and source, and where it is not kept the remedy."""
    return _rule_head(line), _rule_text(line, seen)


def _rule_head(line: RuleLine) -> str:
    """`broken torque-factor (rejects): torque_factor 1.09, at least 1.2, headroom -0.37, may be waived`."""
    does = "" if line.kind == NOWHERE else f" ({_does(line)})"
    asked = f"{_found(line)}, {words.bound(line.rule)}" if line.rule else _found(line)
    room = f", headroom {words.headroom(line.headroom)}" if line.value is not None else ""
    waived = ", may be waived" if line.kind == BROKEN and line.rule and line.rule.waivable else ""
    return f"{line.kind} {line.name}{does}: {asked}{room}{waived}"


def _does(line: RuleLine) -> str:
    if line.kind == NEEDED and line.rule and line.rule.not_given == "said":
        return "only said"
    return "rejects" if line.rejects else "cautions"


def _found(line: RuleLine) -> str:
    if line.value is None:
        why = f" ({'; '.join(line.why)})" if line.why else ""
        return f"{line.metric} {line.kind}{why}"
    near = [limit for limit in (line.rule.lower, line.rule.upper) if limit is not None] if line.rule else []
    return f"{line.metric} {words.told_apart(METRICS[line.metric], line.value, near)}"


def _rule_text(line: RuleLine, seen: Seen) -> str:
    if line.rule is None:
        return "A figure that cannot be computed rejects the kit."
    remedy = f" Remedy: {words.sentence(line.rule.remedy)}" if line.kind in (BROKEN, UNKNOWN) and line.rule.remedy else ""
    return f"{words.sentence(line.rule.reason)}{remedy} {_rule_source(line.rule, seen)}"


def _rule_source(rule: Rule, seen: Seen) -> str:
    where = f", {_spot(rule.place, seen)}" if rule.place else ""
    return f"(source: {rule.source or 'none'}{where})"
