"""Legal kits, their number and why there are none: held against plain nested loops over small random catalogs.

The nested loops follow nothing but the definition of each kind of fit; they share no line with the engine.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Collection
from dataclasses import replace
from itertools import combinations, product
from pathlib import Path
from typing import Any

import pytest

from fitcheck.catalog.parts import FAMILIES, Catalog, Part
from fitcheck.engine.counting import count
from fitcheck.engine.emptied import why_empty
from fitcheck.engine.legality import Legality
from fitcheck.engine.result import Emptied, Freeing
from fitcheck.errors import InputError, Place
from fitcheck.job import Job
from fitcheck.profile import Assumptions, Fit, Profile

EXTERNAL = ("application", "pedal", "master", "line", "fluid", "slave", "fork", "bearing", "pressure_plate", "disc")
CONCENTRIC = ("application", "pedal", "master", "line", "fluid", "concentric", "pressure_plate", "disc")
ASSUMED = Assumptions(0.3e-6, 101325.0, 0.2, 0.0, 3, 1000.0, 60.0)
TEXT = ("", "", "")


def part(family: str, identifier: str, **values: Any) -> Part:
    return Part(family, identifier, values, {"": Place("parts.toml")})


def catalog(*parts: Part) -> Catalog:
    by_family = {family: sorted((p for p in parts if p.family == family), key=lambda p: p.id) for family in FAMILIES}
    return Catalog({family: tuple(found) for family, found in by_family.items()})


def profile(*fits: Fit) -> Profile:
    return Profile("test", 1.0, 0.25, (), ASSUMED, fits, ())


def job(**changes: Any) -> Job:
    return Job("test", Path("job.toml"), (), "default", **changes)


def legal(parts: Catalog, rules: Profile, asked: Job, train: str) -> list[tuple[str, ...]]:
    """Every kit of every block as ids, as the engine finds them."""
    found = []
    legality = Legality(parts, rules, asked)
    families = EXTERNAL if train == "external" else CONCENTRIC
    for application, here in legality.groups():
        for block in legality.blocks(application, here) if here == train else ():
            rows = {**block.rows, "application": [block.application], "pressure_plate": [block.cover]}
            ids = [[parts.families[family][row].id for row in rows[family]] for family in families]
            kits = list(product(*ids))
            assert len(kits) == block.size
            found += kits
            slaves = {parts.part("slave", i).values["preload"] > 0 for i in ids[5]} if train == "external" else {True}
            assert slaves == {block.rest == "contact"}
    return found


# --- the plain way


def word(kit: dict[str, Part], field: str) -> Any:
    family, _, name = field.partition(".")
    values = kit[family].values
    if field == "line.inlet":
        return values["pieces"][0]["inlet"]
    if field == "line.outlet":
        return values["pieces"][-1]["outlet"]
    if field == "line.length":
        return sum(piece.get("length", 0.0) for piece in values["pieces"])
    if field == "line.liner":
        return tuple({piece["liner"] for piece in values["pieces"] if "liner" in piece})
    if field == "slave.rest":
        return "contact" if values["preload"] > 0 else "bottomed"
    return values.get(name)


def meets(fit: Fit, kit: dict[str, Part]) -> bool:
    if fit.kind == "fitted":
        return all(kit[family].id == name for family, name in kit["application"].values["fitted"].items() if family in kit)
    values = [word(kit, field) for field in fit.fields]
    if any(value is None for value in values):
        return False
    if fit.kind == "equal":
        return values[0] == values[1] != "none"
    if fit.kind == "allowed":
        choices = [value if isinstance(value, tuple) else (value,) for value in values]
        return all(row in fit.allowed for row in product(*choices))
    if fit.kind == "at_most":
        return values[0] <= values[1]
    if fit.kind == "inside":
        return values[1][0] <= values[0] <= values[1][1]
    return (fit.lower is None or fit.lower <= values[0] - values[1]) and (fit.upper is None or values[0] - values[1] <= fit.upper)


def plain(parts: Catalog, rules: Profile, asked: Job, families: tuple[str, ...]) -> list[tuple[str, ...]]:
    found = []
    choices = [[p for p in parts.families[family] if p.id in asked.only.get(family, (p.id,))] for family in families]
    choices = [[p for p in some if p.id not in asked.leave_out.get(p.family, ())] for some in choices]
    here = [fit for fit in rules.fits if {field.split(".")[0] for field in fit.fields} <= set(families)]
    for kit in product(*choices):
        named = dict(zip(families, kit, strict=True))
        if all(meets(fit, named) for fit in here):
            found.append(tuple(p.id for p in kit))
    return found


# --- random catalogs and fits

WORDS = ("a", "b", "none")
NUMBERS = (1.0, 2.0, 3.0)
FITS_OF = ("equal", "equal", "allowed", "allowed", "at_most", "band", "inside")


def random_part(dice: random.Random, family: str, number: int) -> Part:
    values: dict[str, Any] = {"shape": dice.choice(WORDS), "form": dice.choice(WORDS), "size": dice.choice(NUMBERS)}
    values["room"] = tuple(sorted((dice.choice(NUMBERS), dice.choice(NUMBERS))))
    if dice.random() < 0.1:
        del values[dice.choice(("shape", "size"))]
    if family == "slave":
        values["preload"] = dice.choice((0.0, 50.0))
    if family == "line":
        kinds = [dice.choice(("tube", "hose", "adapter")) for _ in range(dice.randint(1, 3))]
        values["pieces"] = tuple(random_piece(dice, kind) for kind in kinds)
    if family == "application":
        values["fitted"] = {name: f"{name}-{dice.randint(0, 2)}" for name in FAMILIES[1:-1] if dice.random() < 0.06}
    return part(family, f"{family}-{number}", **values)


def random_piece(dice: random.Random, kind: str) -> dict[str, Any]:
    piece = {"kind": kind, "inlet": dice.choice(WORDS), "outlet": dice.choice(WORDS)}
    if kind != "adapter":
        piece["length"] = dice.choice(NUMBERS)
    return piece if kind != "hose" else {**piece, "liner": dice.choice(WORDS)}


def random_fit(dice: random.Random, number: int) -> Fit:
    kind = dice.choice(FITS_OF)
    pair = dice.sample([family for family in FAMILIES[1:-1] if family != "pressure_plate"], 2)
    fixed = dice.sample(("application", "pressure_plate"), 2)
    families = dice.choice(([pair[0], fixed[0]], pair, [fixed[0], pair[0]], fixed))
    if kind == "allowed":
        families = dice.choice((families[:1], families, [*families, *fixed][:3]))
        fields = tuple(f"{family}.{'liner' if family == 'line' else dice.choice(('shape', 'form'))}" for family in families)
        rows = {tuple(dice.choice(WORDS) for _ in fields) for _ in range(2 * len(fields))}
        return Fit(f"fit-{number}", "allowed", fields, *TEXT, allowed=tuple(sorted(rows)))
    names = {"equal": ("shape", "form"), "at_most": ("size", "size"), "band": ("size", "size"), "inside": ("size", "room")}[kind]
    fields = tuple(derived(dice, f"{family}.{name}") for family, name in zip(families, names, strict=True))
    lower, upper = sorted((dice.choice((-2.0, -1.0, 0.0)), dice.choice((-1.0, 0.0, 1.0))))
    if kind == "band":
        return Fit(f"fit-{number}", kind, fields, *TEXT, lower=dice.choice((lower, None)), upper=upper)
    return Fit(f"fit-{number}", kind, fields, *TEXT)


def derived(dice: random.Random, field: str) -> str:
    """Now and then what the pieces of a line, or the spring of a slave, say instead of a plain field."""
    other = {"line.shape": "line.inlet", "line.form": "line.outlet", "line.size": "line.length", "slave.shape": "slave.rest"}
    return other.get(field, field) if dice.random() < 0.7 else field


def random_world(seed: int) -> tuple[Catalog, Profile, Job]:
    dice = random.Random(seed)
    sizes = {family: dice.choice((1, 2, 2)) for family in FAMILIES}
    sizes |= {family: dice.choice((1, 2, 2, 3)) for family in ("line", "master", "slave", "concentric")}
    parts = [random_part(dice, family, number) for family, size in sizes.items() for number in range(size)]
    fits = [random_fit(dice, number) for number in range(dice.randint(1, 9))]
    fits += [Fit("fitted", "fitted", ("application.fitted",), *TEXT)] if dice.random() < 0.7 else []
    ids = {family: tuple(f"{family}-{n}" for n in range(2) if dice.random() < 0.7) for family in FAMILIES}
    some = {family: ids[family] for family in FAMILIES if dice.random() < 0.05}
    without = {family: (f"{family}-1",) for family in FAMILIES if dice.random() < 0.05}
    return catalog(*parts), profile(*fits), job(only=some, leave_out=without)


def test_legal_kits_are_those_of_nested_loops_over_400_small_random_catalogs() -> None:
    kits = illegal = 0
    for seed in range(400):
        parts, rules, asked = random_world(seed)
        counted = count(parts, rules, asked)
        for train, families in (("external", EXTERNAL), ("concentric", CONCENTRIC)):
            found, expected = legal(parts, rules, asked, train), plain(parts, rules, asked, families)
            assert sorted(found) == sorted(expected), f"seed {seed}, {train}"
            for application in parts.families["application"]:
                counted_here = counted.get((application.id, train), 0)
                assert counted_here == sum(kit[0] == application.id for kit in expected)
            kits += len(expected)
            illegal += not expected
    assert kits > 5_000
    assert illegal > 50  # both kinds of world were met


# --- the kinds of fit, one by one


def base(**changes: dict[str, Any]) -> list[Part]:
    """One part a family of the external train and of the concentric, with values that the tests change."""
    values: dict[str, dict[str, Any]] = {family: {} for family in FAMILIES}
    values["slave"] = {"preload": 0.0}
    values["line"] = {"pieces": ({"kind": "tube", "length": 1.0, "inlet": "a", "outlet": "b"},)}
    values["application"] = {"fitted": {}, "fork_return_force": 20.0}
    return [part(family, family.replace("_", "-"), **{**own, **changes.get(family, {})}) for family, own in values.items()]


def kits(fit: Fit, *parts: Part) -> int:
    return count(catalog(*parts), profile(fit), job(trains=("external",)))["application", "external"]


def test_equal_compares_numbers_to_nine_digits_and_never_two_nones() -> None:
    fit = Fit("bore", "equal", ("master.bore", "slave.bore"), *TEXT)
    assert kits(fit, *base(master={"bore": 0.75 * 0.0254}, slave={"bore": 0.01905, "preload": 0.0})) == 1
    assert kits(fit, *base(master={"bore": 0.01905}, slave={"bore": 0.0190501, "preload": 0.0})) == 0
    assert kits(fit, *base(master={"bore": "none"}, slave={"bore": "none", "preload": 0.0})) == 0
    assert kits(fit, *base(master={"bore": True}, slave={"bore": "yes", "preload": 0.0})) == 1


def test_a_number_meets_its_bound_within_a_rounding_error() -> None:
    fit = Fit("cover", "at_most", ("disc.size", "pressure_plate.room"), *TEXT)
    assert kits(fit, *base(disc={"size": 0.3}, pressure_plate={"room": 0.1 + 0.2 - 1e-16})) == 1
    assert kits(fit, *base(disc={"size": 0.3001}, pressure_plate={"room": 0.3})) == 0
    band = Fit("band", "band", ("bearing.bore", "application.sleeve"), *TEXT, lower=1e-4, upper=2e-3)
    fitting = [{"bore": bore} for bore in (0.0351, 0.037, 0.03509, 0.0371)]
    sleeve = {"sleeve": 0.035, "fitted": {}}
    assert [kits(band, *base(bearing=some, application=sleeve)) for some in fitting] == [1, 1, 0, 0]


def test_what_is_not_given_meets_nothing() -> None:
    for kind in ("equal", "at_most", "band", "inside"):
        assert kits(Fit("fit", kind, ("disc.a", "bearing.b"), *TEXT), *base()) == 0  # type: ignore[arg-type]
    assert kits(Fit("fit", "allowed", ("disc.a",), *TEXT, allowed=(("x",),)), *base()) == 0
    liner = Fit("fit", "allowed", ("line.liner", "fluid.base"), *TEXT, allowed=(("EPDM", "glycol"),))
    assert kits(liner, *base()) == 0  # although the line has no hose whose liner could be wrong


def test_every_liner_of_a_line_must_be_allowed_and_a_line_without_hoses_always_is() -> None:
    fit = Fit("liner", "allowed", ("line.liner", "fluid.base"), *TEXT, allowed=(("EPDM", "glycol"), ("PTFE", "glycol")))

    def hoses(*liners: str) -> dict[str, Any]:
        return {"pieces": tuple({"kind": "hose", "length": 1.0, "liner": liner} for liner in liners)}

    glycol = {"base": "glycol"}
    assert kits(fit, *base(line=hoses("EPDM", "PTFE"), fluid=glycol)) == 1
    assert kits(fit, *base(line=hoses("EPDM", "NBR"), fluid=glycol)) == 0
    assert kits(fit, *base(fluid=glycol)) == 1


@pytest.mark.parametrize(
    ("field", "changes", "word"),
    [
        ("application.return_spring", {}, "yes"),
        ("application.return_spring", {"application": {"fork_return_force": 0.0, "fitted": {}}}, "no"),
        ("pressure_plate.spring", {"pressure_plate": {"diaphragm": {}}}, "diaphragm"),
        ("pressure_plate.spring", {}, "curve"),
        ("disc.cushion", {"disc": {"cushion_travel": 1e-3}}, "yes"),
        ("disc.cushion", {"disc": {"cushion_travel": 0.0}}, "none"),
        ("slave.rest", {"slave": {"preload": 5.0}}, "contact"),
        ("slave.rest", {}, "bottomed"),
    ],
)
def test_derived_words_are_words_of_a_fit(field: str, changes: dict[str, Any], word: str) -> None:
    for allowed in (word, f"not {word}"):
        assert kits(Fit("fit", "allowed", (field,), *TEXT, allowed=((allowed,),)), *base(**changes)) == (allowed == word)


def test_fits_of_families_that_a_train_lacks_do_not_apply() -> None:
    fit = Fit("ears", "equal", ("fork.ears", "bearing.ears"), *TEXT)
    counted = count(catalog(*base()), profile(fit), job())
    assert counted == {("application", "external"): 0, ("application", "concentric"): 1}


def test_a_very_large_space_is_counted_exactly() -> None:
    many = [part(family, f"p-{n}", **p.values) for p in base() for family in [p.family] for n in range(150)]
    applications = [p for p in many if p.family != "application"] + base()[:1]
    assert count(catalog(*applications), profile(), job()) == {
        ("application", "external"): 150**9,  # above 2^63: no machine number holds it
        ("application", "concentric"): 150**7,
    }


# --- what cannot be asked


def test_a_fit_over_too_many_families_says_where_it_stands() -> None:
    fit = Fit("knot", "allowed", ("master.a", "line.b", "slave.c"), *TEXT, place=Place("profile.toml", 7, 2, "fits.knot"))
    with pytest.raises(InputError, match=r"profile.toml:7:2.*fits.knot.*master, line, slave.*at most two families") as caught:
        count(catalog(*base()), profile(fit), job())
    assert [finding.problem for finding in caught.value.findings] == ["too-many-families"]


def test_a_fit_of_an_unknown_family_is_refused() -> None:
    with pytest.raises(InputError, match=r"slav.*families of a train"):
        count(catalog(*base()), profile(Fit("fit", "equal", ("slav.a", "line.b"), *TEXT)), job())


def test_a_word_where_a_fit_needs_a_number_is_refused() -> None:
    for kind, wanted in (("at_most", "a number"), ("inside", "a range")):
        fit = Fit("fit", kind, ("disc.a", "bearing.b"), *TEXT)  # type: ignore[arg-type]
        with pytest.raises(InputError, match=f'"wide".*{wanted}'):
            count(catalog(*base(disc={"a": 1.0}, bearing={"b": "wide"})), profile(fit), job())


# --- why there is nothing


def emptied(*fits: Fit, asked: Job | None = None, **changes: dict[str, Any]) -> tuple[tuple[str, ...], str]:
    found = why(catalog(*base(**changes)), profile(*fits), asked or job())
    return found.fits, "\n".join(found.sentences)


def why(parts: Catalog, rules: Profile, asked: Job, group: tuple[str, str] = ("application", "external")) -> Emptied:
    ids = [part.id for part in parts.families["application"]]
    return why_empty(Legality(parts, rules, asked), ids.index(group[0]), group[1])


def test_a_spline_that_no_disc_has_is_named_with_those_that_stand_alone() -> None:
    fit = Fit("spline", "equal", ("disc.spline", "application.spline"), *TEXT)
    names, told = emptied(fit, disc={"spline": "10x26"}, application={"spline": "14x29", "fitted": {}})
    assert names == ("spline",)
    assert told == 'no disc has the spline "14x29" of the application; discs have "10x26"'


def test_a_mount_of_none_is_told_as_such() -> None:
    fit = Fit("mount", "equal", ("application.slave_mount", "slave.slave_mount"), *TEXT)
    told = emptied(fit, application={"slave_mount": "none", "fitted": {}}, slave={"slave_mount": "m8", "preload": 0.0})[1]
    assert told == 'the application takes no slave: its slave mount is "none"'


def test_numbers_are_told_with_their_units() -> None:
    fit = Fit("run", "at_most", ("application.line_run", "line.length"), *TEXT)
    told = emptied(fit, application={"line_run": 1.25, "fitted": {}})[1]
    assert told == 'nothing meets at "run": the application has line run 1250 mm; lines have length 1000 mm'
    fit = Fit("face", "inside", ("bearing.face_diameter", "pressure_plate.finger_circle"), *TEXT)
    told = emptied(fit, bearing={"face_diameter": 0.06}, pressure_plate={"finger_circle": (0.03, 0.05)})[1]
    assert told == 'nothing meets at "face": bearings have face diameter 60 mm; pressure plates have finger circle 30 mm to 50 mm'


def test_words_of_pairs_are_told_side_by_side() -> None:
    fit = Fit("seal", "allowed", ("line.liner", "fluid.base"), *TEXT, allowed=(("EPDM", "glycol"),))
    pieces = ({"kind": "hose", "length": 1.0, "liner": "NBR"}, {"kind": "hose", "length": 1.0, "liner": "EPDM"})
    told = emptied(fit, line={"pieces": pieces}, fluid={"base": "glycol"})[1]
    assert told == 'nothing meets at "seal": lines have liner "EPDM" and "NBR"; fluids have base "glycol"'
    assert emptied(fit)[1].endswith("lines have liner none of them; fluids have base not given")


def test_a_fitted_part_that_is_not_there_is_named() -> None:
    fit = Fit("fitted", "fitted", ("application.fitted",), *TEXT)
    told = emptied(fit, application={"fitted": {"pedal": "old", "disc": "disc"}})[1]
    assert told == 'the application has pedal "old" fitted, which neither catalog nor job offers'


def test_a_family_without_parts_is_named() -> None:
    parts = [p for p in base() if p.family != "fork"]
    found = why(catalog(*parts), profile(), job(leave_out={"disc": ("disc",)}))
    assert found.sentences == ("the catalog has no fork", "the job leaves out every disc of the catalog")


@pytest.mark.parametrize("torn", [("disc",), ("disc", "fork"), ("disc", "fork", "pedal")])
def test_fits_that_only_together_leave_nothing_are_told_with_what_would_free(torn: tuple[str, ...]) -> None:
    """Of each torn family one part meets the hub and the other the spline; so many fits must go before a kit is legal."""
    wanted = {"hub": "x", "spline": "a", "fitted": {}}
    parts = base(application=wanted, **{family: {"hub": "x", "spline": "b"} for family in torn})
    parts += [part(family, "other", hub="y", spline="a") for family in torn]
    pairs = [(family, field) for family in torn for field in ("hub", "spline")]
    fits = [Fit(f"{family}-{field}", "equal", (f"{family}.{field}", f"application.{field}"), *TEXT) for family, field in pairs]
    found = why(catalog(*parts), profile(*fits), job())
    assert found.conflicts == tuple((f"{family}-hub", f"{family}-spline") for family in sorted(torn, key=FAMILIES.index))
    assert found.fits == tuple(name for conflict in found.conflicts for name in conflict)
    assert len(found.sentences) == len(torn) + len(found.fits)  # what cannot be met, then what stands at each
    assert {(*some.names, some.kits) for some in found.freeing} <= {(*some, 1) for some in product(*found.conflicts)}
    assert len(found.freeing) == min(2 ** len(torn), 4)


def test_each_fit_of_a_conflict_is_told_with_what_it_leaves() -> None:
    mount = Fit("mount", "equal", ("master.mount", "application.mount"), *TEXT)
    thread = Fit("thread", "equal", ("master.outlet", "line.inlet"), *TEXT)
    parts = base(application={"mount": "flange", "fitted": {}}, master={"mount": "flange", "outlet": "b"})
    parts += [part("master", "other", mount="stud", outlet="a"), part("master", "small", mount="stud", outlet="c")]
    found = why(catalog(*parts), profile(mount, thread), job())
    assert found.sentences == (
        '"mount" and "thread" can each be met, but not together',
        '"mount": the application has mount "flange", and of 3 masters it leaves "master"',
        '"thread": the masters left have outlet "b"; lines have inlet "a"',
    )


def test_who_meets_nothing_where_others_do_is_told() -> None:
    """Of two masters one has the thread of the line, the other the seal for the fluid."""
    thread = Fit("thread", "equal", ("master.outlet", "line.inlet"), *TEXT)
    seal = Fit("seal", "equal", ("master.seal", "fluid.base"), *TEXT)
    parts = base(master={"outlet": "a", "seal": "x"}, fluid={"base": "y"})
    parts += [part("master", "other", outlet="c", seal="y")]
    found = why(catalog(*parts), profile(thread, seal), job())
    assert found.sentences[1:] == (
        '"thread": masters have outlet "a", "c"; lines have inlet "a"; no line of these takes "other"',
        '"seal": masters have seal "x", "y"; fluids have base "y"; no fluid of these takes "master"',
    )


def test_what_the_job_leaves_out_is_told_from_what_the_catalog_lacks() -> None:
    fit = Fit("mount", "equal", ("application.mount", "slave.mount"), *TEXT)
    parts = base(application={"mount": "side", "fitted": {}}, slave={"mount": "base", "preload": 0.0})
    parts += [part("slave", "other", mount="side", preload=0.0), part("disc", "second")]
    found = why(catalog(*parts), profile(fit), job(only={"slave": ("slave",)}))
    assert found.sentences == ('no slave that the job lets in has the mount "side" of the application; slaves have "base"',)
    assert found.restricted == (Freeing(("slave",), 2),)
    both = {"slave": ("slave",), "disc": ()}
    assert why(catalog(*parts), profile(fit), job(only=both)).restricted == (Freeing(("slave", "disc"), 2),)
    assert why(catalog(*parts[:-2]), profile(fit), job()).restricted is None
    assert why(catalog(*parts[:-2], parts[-1]), profile(fit), job(leave_out={"disc": ("disc",)})).restricted == ()


def test_reasons_for_an_empty_group_hold_in_random_worlds() -> None:
    ways = set()
    for seed in range(60):
        parts, rules, asked = random_world(seed)
        for group, legal_kits in count(parts, rules, asked).items():
            if not legal_kits:
                ways |= check_emptied(parts, rules, asked, group)
    assert ways >= {"nothing left", "alone", "together", "several"}


def check_emptied(parts: Catalog, rules: Profile, asked: Job, group: tuple[str, str]) -> set[str]:
    """What is said holds by nested loops: conflicts empty and are minimal, what frees is smallest; which ways were met."""
    here = replace(asked, only={**asked.only, "application": (group[0],)})
    families = EXTERNAL if group[1] == "external" else CONCENTRIC
    found = why(parts, rules, asked, group)

    def kits_with(names: Collection[str], asking: Job = here) -> int:
        return len(plain(parts, replace(rules, fits=tuple(fit for fit in rules.fits if fit.name in names)), asking, families))

    assert found.sentences
    ways = check_restricted(found, families, here, lambda asking: kits_with([fit.name for fit in rules.fits], asking))
    if not found.conflicts:
        assert kits_with([]) == 0
        return {"nothing left"} | ways
    named = [name for conflict in found.conflicts for name in conflict]
    assert found.fits == tuple(named)
    assert len(named) == len(set(named))
    for conflict in found.conflicts:
        assert kits_with(conflict) == 0
        assert all(kits_with(set(conflict) - {name}) for name in conflict)
    every = {fit.name for fit in rules.fits}
    assert kits_with(every - set(named)), "another conflict is left"
    check_freeing(found, every, kits_with)
    ways |= {"several"} if len(found.conflicts) > 1 else set()
    return ways | {"alone" if len(conflict) == 1 else "together" for conflict in found.conflicts}


def check_freeing(found: Emptied, every: set[str], kits_with: Callable[[Collection[str]], int]) -> None:
    """Each set that is said to free does, with that many kits, and no smaller one would."""
    assert found.freeing
    sizes = {len(some.names) for some in found.freeing}
    assert len(sizes) == 1
    assert all(kits_with(every - set(some.names)) == some.kits > 0 for some in found.freeing)
    smaller = combinations(sorted(every), sizes.pop() - 1)
    assert not any(kits_with(every - set(some)) for some in smaller)


def check_restricted(found: Emptied, families: tuple[str, ...], here: Job, kits: Callable[[Job], int]) -> set[str]:
    """What the job's restrictions are said to do, they do."""
    for some in found.restricted or ():
        only = {family: ids for family, ids in here.only.items() if family not in some.names}
        out = {family: ids for family, ids in here.leave_out.items() if family not in some.names}
        assert kits(replace(here, only=only, leave_out=out)) == some.kits > 0
    if found.restricted == ():
        assert kits(replace(here, only={"application": here.only["application"]}, leave_out={})) == 0
    return {"restricted"} if found.restricted else set()
