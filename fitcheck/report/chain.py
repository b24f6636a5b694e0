"""How a number came about, and how a kit stands: trees and lists for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from fitcheck.engine.states import ABSENT, CANNOT, STATE_WORDS
from fitcheck.engine.table import METRICS
from fitcheck.profile import Rule
from fitcheck.quantities import UNITS, to_unit
from fitcheck.reasons.chain import Figure, Leaf, Node
from fitcheck.reasons.standing import BROKEN, UNKNOWN, Footing, RuleLine, Standing
from fitcheck.report import words
from fitcheck.report.judgement import verdict_text
from fitcheck.report.view import setup_texts

WIDTH = 118
SHORT = 2  # levels of a short tree that are told one by one
MOST_POINTS = 7  # of a list of numbers

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


def tree_lines(tree: Node, short: bool, told: set[tuple[str, str, str]]) -> Iterator[str]:
    """A tree from the top down: in full, each with what it says of itself; or short, its lower levels summed up by part.

    Leaves that stand in `told` are only named, and those of this tree are added to it.
    """
    yield from _node_lines(tree, 0, short, told)
    below = [leaf for leaf in _deep(tree, 0) if leaf.id not in told] if short else []
    told.update(leaf.id for leaf in below)
    yield from _by_owner(below)


def _node_lines(node: Node, depth: int, short: bool, told: set[tuple[str, str, str]]) -> Iterator[str]:
    indent = "  " * depth
    yield indent + _headline(node)
    if not short:
        yield from _wrapped(f"{words.sentence(node.sentence)} {_sourced(node.source)}".rstrip(), f"{indent}    | ")
    yield from (f"{indent}    {text}" for text in _whys(node))
    if short and depth == SHORT:
        return
    again = []
    for each in node.inputs:
        if isinstance(each, Node) and not each.again:
            yield from _node_lines(each, depth + 1, short, told)
        elif isinstance(each, Leaf) and each.id not in told:
            told.add(each.id)
            yield f"{indent}  {leaf_text(each)}"
        else:
            again.append(f"{each.name} {_value(each)}".rstrip())
    if again:
        yield from _wrapped(f"and, told above: {', '.join(dict.fromkeys(again))}", f"{indent}  ")


def _deep(node: Node, depth: int) -> Iterator[Leaf]:
    """The leaves below the levels that a short tree tells one by one."""
    for each in node.inputs:
        if isinstance(each, Node):
            yield from _deep(each, depth + 1)
        elif depth >= SHORT:
            yield each


def _by_owner(leaves: Iterable[Leaf]) -> Iterator[str]:
    """One paragraph for each part or file: what of it went into the number."""
    groups: dict[tuple[str, str], dict[tuple[str, str, str], Leaf]] = {}
    for leaf in leaves:
        if leaf.kind not in ("train", "left out"):
            groups.setdefault((leaf.owner, leaf.place.file if leaf.place else ""), {})[leaf.id] = leaf
    for (owner, file), some in groups.items():
        lines = sorted({leaf.place.line for leaf in some.values() if leaf.place})
        where = f" ({file}:{lines[0]}{f'-{lines[-1]}' if len(lines) > 1 else ''})" if file and lines else ""
        told = ", ".join(f"{leaf.key} {_value(leaf)}".rstrip() for leaf in some.values())
        yield from _wrapped(f"from {owner or 'the job'}{where}: {told}", "  ")


def _headline(node: Node) -> str:
    right = node.equation.partition(" = ")[2]
    return f"{node.name} {_value(node)}".rstrip() + (f" = {right}" if right else "")


def _whys(node: Node) -> Iterator[str]:
    if node.lacking and node.state == CANNOT:
        yield f"cannot be computed: {'; '.join(node.lacking)}"
    elif node.lacking:
        yield f"give {', '.join(node.lacking)} in the catalog"


def _sourced(source: str) -> str:
    return f"({source.rstrip('.')})" if source else ""


def _wrapped(text: str, indent: str) -> list[str]:
    after = indent if indent.endswith("| ") else f"{indent}  "
    return textwrap.wrap(
        text, WIDTH, initial_indent=indent, subsequent_indent=after, break_long_words=False, break_on_hyphens=False
    )


# --- values


def _value(item: Node | Leaf) -> str:
    return node_value(item) if isinstance(item, Node) else leaf_value(item)


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


def _list(numbers: Sequence[float], unit: str) -> str:
    """Numbers in a unit; of many the first and the last."""
    texts = [_digits(number, unit) for number in numbers]
    if len(texts) > MOST_POINTS:
        texts = [*texts[: MOST_POINTS - 2], "...", texts[-1]]
    return f"{', '.join(texts)} {unit}".rstrip()


def _digits(number: float, unit: str) -> str:
    text = f"{float(to_unit(number, unit)):.4g}"
    return {"inf": "infinite", "-inf": "minus infinite", "-0": "0"}.get(text, text)


def leaf_value(leaf: Leaf) -> str:
    """What was given, as the file writes it, and in the trade's unit where that is another."""
    if leaf.words:
        return f"{leaf.text} ({leaf.words})" if leaf.text is not None else f"({leaf.words})"
    value, unit = leaf.value, UNITS.get(leaf.dimension, ("",))[0]
    if leaf.kind == "not given":
        return STATE_WORDS[2]
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return {True: "yes", False: "no", None: ""}.get(value, str(value))  # type: ignore[arg-type]
    if isinstance(value, tuple):
        return _list(value, unit) if leaf.dimension else ", ".join(map(str, value))
    told = _list((float(value),), unit)  # type: ignore[arg-type]
    if leaf.text is None:
        return told
    plain = str(leaf.text)
    return plain if not unit or unit in plain else f"{plain} ({told})"


def leaf_text(leaf: Leaf) -> str:
    """One line for what was given: name, value, whose it is, where it stands, and what kind of source that has."""
    origin = {"assumption": "assumed by the profile", "rule": f"asked for by the rule {leaf.owner}", "job": "of the job"}
    whose = origin.get(leaf.kind, f"{leaf.owner} {leaf.key}".strip())
    left_out = "left out in the catalog" if leaf.kind == "left out" else ""
    where = f"{leaf.place.file}:{leaf.place.line}" if leaf.place else ""
    evidence = (leaf.evidence or "no evidence given") if leaf.kind == "field" else ""
    told = ", ".join(text for text in (whose, left_out, where, evidence) if text)
    return f"{leaf.name} {leaf_value(leaf)}".rstrip() + (f": {told}" if told else "")


# --- how a kit stands


def verdict_lines(standing: Standing) -> Iterator[str]:
    """The kit, its verdict, its set-up; for a kit that is not legal, what does not meet."""
    yield standing.kit
    if standing.table is not None:
        yield f"  {verdict_text(standing.table)}"
        yield f"  set-up: {', '.join(setup_texts(standing.table, 0))}"
        yield from (f"  {remark}" for remark in standing.table.remarks[0])
    for text in standing.unmet.sentences if standing.unmet else ():
        yield f"  not legal: {words.sentence(text)}"
    if standing.unmet:
        yield "  Its figures below are what they would be, could the parts be put together."


def footing_lines(footing: Footing) -> Iterator[str]:
    """What the verdict rests on that is remembered, assumed or made up; a line says so where there is nothing."""
    if not footing.metrics:
        return
    yield f"The verdict rests on {', '.join(footing.metrics)}, and those on"
    kinds: dict[str, list[str]] = {}
    for part, evidence in footing.entries:
        named = f"{part.family} {part.id} ({part.place.file}:{part.place.line})"
        kinds.setdefault(evidence or "entries that do not say their evidence", []).append(named)
    told = [f"{_EVIDENCE.get(kind, kind)}: {', '.join(some)}" for kind, some in sorted(kinds.items())]
    if footing.assumptions:
        told.append(f"assumptions of the profile: {', '.join(map(_assumed, footing.assumptions))}")
    if footing.rules:
        told.append(f"bounds that have no source: {', '.join(rule.name for rule in footing.rules)}")
    for text in told or ["published, measured or makers' figures only"]:
        yield from _wrapped(text, "  ")


_EVIDENCE = {"invented": "invented entries", "memory": "entries from memory", "practice": "entries by common practice"}


def _assumed(leaf: Leaf) -> str:
    where = f" ({leaf.place.file}:{leaf.place.line})" if leaf.place else ""
    return f"{leaf.key} {leaf_value(leaf)}{where}"


def rule_lines(lines: Iterable[RuleLine], kinds: Sequence[str] = ()) -> Iterator[str]:
    """Rules with value, bound and headroom, each with its reason and source; of broken ones the remedy too."""
    for line in lines:
        if not kinds or line.kind in kinds:
            yield f"  {_rule_head(line)}"
            yield from _wrapped(_rule_text(line), "      ")


def _rule_head(line: RuleLine) -> str:
    """`broken torque-factor (rejects): torque_factor 1.09, at least 1.2, headroom -0.37, may be waived`."""
    does = "rejects" if line.rejects else "cautions"
    asked = f"{_found(line)}, {words.bound(line.rule)}" if line.rule else _found(line)
    room = f", headroom {words.headroom(line.headroom)}" if line.value is not None else ""
    waived = ", may be waived" if line.kind == BROKEN and line.rule and line.rule.waivable else ""
    return f"{line.kind} {line.name} ({does}): {asked}{room}{waived}"


def _found(line: RuleLine) -> str:
    if line.value is None:
        why = f" ({'; '.join(line.why)})" if line.why else ""
        return f"{line.metric} {line.kind}{why}"
    near = [limit for limit in (line.rule.lower, line.rule.upper) if limit is not None] if line.rule else []
    return f"{line.metric} {words.told_apart(METRICS[line.metric], line.value, near)}"


def _rule_text(line: RuleLine) -> str:
    if line.rule is None:
        return "A figure that cannot be computed rejects the kit."
    remedy = f" Remedy: {words.sentence(line.rule.remedy)}" if line.kind in (BROKEN, UNKNOWN) and line.rule.remedy else ""
    return f"{words.sentence(line.rule.reason)}{remedy} {_rule_source(line.rule)}"


def _rule_source(rule: Rule) -> str:
    where = f", {rule.place.file}:{rule.place.line}" if rule.place else ""
    return f"(source: {rule.source or 'none'}{where})"
