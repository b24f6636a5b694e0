"""Findings as the XML of test reports that CI servers read: a test a file, and a test for each problem of an entry."""

from __future__ import annotations

import re
from xml.etree import ElementTree

from fitcheck.gates.gate import Gate, Result
from fitcheck.profile_file import DEFAULT
from fitcheck.report.words import INCOMPLETE, plain

# What XML 1.0 (fifth edition, section 2.2) has no room for, whether escaped or not.
_NO_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def junit(gate: Gate, code: int, most: int) -> str:
    """One suite, in ASCII so that it survives any terminal."""
    suite = ElementTree.Element("testsuite", name="fitcheck")
    kept, left_out = gate.shown_results(most)
    _whole(suite, gate)
    for file, kind in sorted(gate.read.items()):
        _case(suite, kind, file)
    for result in kept:
        _result(suite, gate, result)
    for problem, count in left_out.items():
        _say(_case(suite, problem, f"{count} more"), "system-out", f"{count} more of {problem} are left out")
    if gate.lines:
        _say(suite, "system-out", *gate.lines)
    for key, tag in (("tests", "testcase"), ("failures", "failure"), ("errors", "error"), ("skipped", "skipped")):
        suite.set(key, str(len(list(suite.iter(tag)))))
    suites = ElementTree.Element("testsuites")
    suites.append(suite)
    ElementTree.indent(suites)
    written: bytes = ElementTree.tostring(suites, encoding="us-ascii", xml_declaration=True)
    return written.decode("ascii") + "\n"


def _whole(suite: ElementTree.Element, gate: Gate) -> None:
    """The test that something was checked, and all of it."""
    case = _case(suite, "fitcheck", "everything asked for was read")
    if not gate.read:
        _say(case, "error", "nothing was checked")
    elif not gate.complete:
        _say(case, "error", INCOMPLETE)


def _result(suite: ElementTree.Element, gate: Gate, result: Result) -> None:
    """What is at the failing level fails, unless it is accepted; the rest is said in a test that passes."""
    first, found = result.first, list(map(str, result.findings))
    case = _case(suite, first.problem, f"{result.entry} {result.fingerprint}")
    if first.place.file != DEFAULT:  # the shipped profile is no file that a reader could open
        case.set("file", _safe(first.place.file))
        case.set("line", str(first.place.line))
    told = found if len(found) == 1 else [result.headline, *found]
    if result.reason is not None:
        _say(case, "skipped", f"accepted: {result.reason}")
        _say(case, "system-out", *told)
    else:
        _say(case, "failure" if gate.fails(first) else "system-out", *told)


def _case(suite: ElementTree.Element, kind: str, name: str) -> ElementTree.Element:
    return ElementTree.SubElement(suite, "testcase", classname=_safe(kind), name=_safe(name))


def _say(element: ElementTree.Element, tag: str, *lines: str) -> None:
    """Words inside a test or suite; where readers look at an attribute only, the first line there too."""
    said = ElementTree.SubElement(element, tag)
    said.text = "\n".join(map(_safe, lines))
    if tag != "system-out":
        said.set("message", _safe(lines[0]))


def _safe(text: str) -> str:
    """Text on one line that XML can hold: what it cannot is spelled out."""
    return _NO_XML.sub(lambda found: found[0].encode("unicode_escape", "surrogatepass").decode(), plain(text))
