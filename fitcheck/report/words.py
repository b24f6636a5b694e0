"""The words that every output shares: cautions, verdicts, figures with their units, how to read a result."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Mapping, Sequence

from fitcheck.catalog.parts import Part
from fitcheck.engine.result import KitTable, Reason
from fitcheck.engine.states import ABSENT, STATE_WORDS, VALUE, VERDICT_WORDS
from fitcheck.engine.table import METRICS, Metric
from fitcheck.profile import Rule
from fitcheck.quantities import to_unit

AID = "A screening aid computed from catalog figures; not an approval."

INCOMPLETE = "Incomplete: something that was asked for could not be read or judged."

CAUTIONS = (
    AID,
    "Follow the instructions of the makers of the parts and of the vehicle, and local law. They come before anything said here.",
    "Have the work done, or checked, by qualified people.",
    "Support the vehicle and the gearbox properly before anyone works under them.",
    "Brake and clutch fluid harms eyes, skin and paint. Fluids of different bases must not be mixed.",
    "Stored pressure and tensioned springs injure. Friction dust must not be breathed.",
    "Check release, slip and the return of the pedal at standstill before driving.",
)

_HUGE = 1e12  # numbers from here on are written as powers of ten

TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"  # embeddings, overrides and isolates of direction

TRAIN_WORDS = {"external": "external slave", "concentric": "concentric cylinder"}

FAMILY_WORDS = {"pressure_plate": "pressure plate", "concentric": "concentric cylinder", "slave": "external slave"}

REMARKS = {"with stop": "needs its pedal stop", "new only": "for a new disc only, since no worn load is given"}

VERDICT_MEANINGS = {
    "pass": "keeps every rule of the profile",
    "caution": "keeps every rule that rejects, but breaks one that cautions, or a figure is not given",
    "reject": "breaks a rule that rejects, or a figure cannot be computed",
}

HOW_TO_READ = (
    ("Legal kit", "a choice of one part of each family whose interfaces all meet. Only legal kits are judged."),
    (
        "Headroom",
        "how far the nearest rule is away, in steps of that rule's own scale. "
        "1 is comfortable, 0 is on the limit, below 0 the rule is broken.",
    ),
    ("Limiting rule", "the rule that gives the headroom: improve the kit there first."),
    ("Set-up window", "the settings that work, from least to greatest. The wider it is, the more forgiving is the installation."),
    (
        "Broken by, only by",
        "how many legal kits break a rule, and how many it alone rejects: what relaxing just this rule would win.",
    ),
    ("Unbeaten", "no other listed passing kit of the same vehicle is as good on every preference of the job and better on one."),
    (
        "Not given",
        "an optional figure is missing in the catalog. It never counts as a pass; "
        "the kit becomes a caution unless the rule says otherwise.",
    ),
    ("Dash", "the figure does not exist on this kind of kit."),
)


def unless_complete(complete: bool) -> tuple[str, ...]:
    """A line where something that was asked for is not in the answer."""
    return () if complete else (INCOMPLETE,)


def plain(text: str) -> str:
    """The text on one line, with control characters and those that reverse the direction of what follows shown as escapes."""
    return "".join(_escaped(letter) if _unsafe(letter) else letter for letter in text)


def _unsafe(letter: str) -> bool:
    return unicodedata.category(letter) in ("Cc", "Zl", "Zp") or letter in TURNING


def _escaped(letter: str) -> str:
    return {"\n": "\\n", "\t": "\\t", "\r": "\\r"}.get(letter, f"\\u{ord(letter):04x}")


def count(number: int, gap: str = " ") -> str:
    """A whole number in groups of three."""
    return f"{number:,}".replace(",", gap)


def counted(number: int, noun: str) -> str:
    """A number with its noun: `1 kit`, `2 kits`."""
    return f"{count(number)} {noun}" if number == 1 else f"{count(number)} {noun}s"


def files_of(kinds: Mapping[str, int]) -> str:
    """So many files of each kind: `2 catalogs, 1 job`."""
    told = {
        kind: f"{number} of accepted findings" if kind == "accepted" else counted(number, kind) for kind, number in kinds.items()
    }
    return ", ".join(told[kind] for kind in sorted(told))


def listed(texts: Sequence[str], last: str = "and") -> str:
    """`a, b and c`."""
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} {last} {texts[-1]}"


def few(texts: Iterable[str], most: int, between: str) -> str:
    """The first of some texts, and how many more there are."""
    every = list(texts)
    more = [f"{len(every[most:])} more"] if every[most:] else []
    return between.join([*every[:most], *more])


def article(noun: str) -> str:
    """The noun with its article: `a disc`, `an external slave`."""
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


def family_word(family: str) -> str:
    """The family's name as a reader says it."""
    return FAMILY_WORDS.get(family, family)


def train_word(train: str) -> str:
    """A train with its article: `an external slave`."""
    return article(TRAIN_WORDS[train])


def part_name(part: Part | None, identifier: str) -> str:
    """What people call the part; its id where there is no name."""
    return str(part.values.get("name", identifier)) if part else identifier


def number(value: float, decimals: int) -> str:
    """A rounded number for reading; `infinite` in words, never `-0`, never hundreds of digits."""
    if math.isinf(value):
        return "infinite" if value > 0 else "minus infinite"
    if abs(value) >= _HUGE:
        return f"{value:.3g}"
    text = f"{value:.{decimals}f}"
    return text.lstrip("-") if float(text) == 0 else text


def figure(metric: Metric, value: float, more: int = 0) -> str:
    """An SI value in the metric's unit, with its unit; `more` adds decimals."""
    text = number(float(to_unit(value, metric.unit)), metric.decimals + more)
    return text if not metric.unit or math.isinf(value) else f"{text} {metric.unit}"


def cell(table: KitTable, row: int, name: str) -> str:
    """The figure of one metric of one kit, or what stands in its place, in words."""
    state = int(table.states[name][row])
    if state == VALUE:
        return figure(METRICS[name], float(table.metrics[name][row]))
    return "\N{EN DASH}" if state == ABSENT else STATE_WORDS[state]


def headroom(value: float) -> str:
    """Headroom for reading, rounded towards the worse side so that a broken rule never reads as kept."""
    return number(value if abs(value) >= _HUGE else math.floor(value * 100 + 1e-7) / 100, 2)


def verdict(code: int) -> str:
    """The verdict's word."""
    return VERDICT_WORDS[code]


def bound(rule: Rule) -> str:
    """What a rule asks for: `at least 0.5 mm`, `at most 45 bar`, `0.7 to 1.3`."""
    metric = METRICS[rule.metric]
    low = None if rule.lower is None else _exact(metric, rule.lower)
    high = None if rule.upper is None else _exact(metric, rule.upper)
    if low and high:
        return f"{low} to {high}"
    return f"at least {low}" if low else f"at most {high}"


def _exact(metric: Metric, value: float) -> str:
    """A limit as it was written: as many digits as it needs."""
    text = f"{float(to_unit(value, metric.unit)):.6g}"
    return f"{text} {metric.unit}" if metric.unit else text


def found_and_asked(reason: Reason) -> str:
    """What was found beside what was asked for, with enough digits to tell them apart."""
    metric = METRICS.get(reason.metric)
    if metric is None or reason.value is None or reason.limit is None:
        return reason.kind if reason.kind != "broken" else ""
    asked = _exact(metric, reason.limit)
    words = {"lower": "at least", "upper": "at most"}.get(reason.bound, "limit")
    return f"{reason.metric} {told_apart(metric, reason.value, [reason.limit])}, {words} {asked}"


def told_apart(metric: Metric, value: float, limits: Iterable[float]) -> str:
    """A figure with so many digits that a value just outside its limits is not rounded onto one; the usual where none tell."""
    others = [limit for limit in limits if limit != value]
    more = next((more for more in range(8) if all(_differs(metric, value, limit, more) for limit in others)), 0)
    return figure(metric, value, more)


def _differs(metric: Metric, value: float, limit: float, more: int) -> bool:
    return figure(metric, value, more) != figure(metric, limit, more)


def sentence(text: str) -> str:
    """The text begun with a capital and closed by a full stop."""
    return text if not text else f"{text[0].upper()}{text[1:]}{'' if text[-1] in '.!?' else '.'}"


def label(metric: Metric) -> str:
    """What the metric says, able to stand alone."""
    meaning = f"{metric.name}, {metric.meaning}" if metric.meaning.startswith("sum over") else metric.meaning
    return f"{meaning[0].upper()}{meaning[1:]}"


def remark(text: str) -> str:
    """What is to be known of a kit beside its reasons, for a reader: `needs its pedal stop`, `for a new disc only: ...`."""
    head, colon, rest = text.partition(":")
    return f"{REMARKS.get(head, head)}{colon}{rest}"


def short_reason(reason: Reason) -> str:
    """A reason beside others of its kind: what was found and asked for; where there are no numbers, what it says."""
    asked = found_and_asked(reason) if reason.kind in ("broken", "waived") else ""
    return f"{reason.rule}: {asked or reason.reason.rstrip('.')}"


def reason_line(reason: Reason) -> str:
    """One reason on one line: the rule, what it says, and the numbers where there are any."""
    asked = found_and_asked(reason)
    return f"{reason.rule}: {reason.reason.rstrip('.')}" + (f" ({asked})" if asked else "")
