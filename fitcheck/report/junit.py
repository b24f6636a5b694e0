"""Findings as the XML of test reports that CI servers read: a test a file, and a test a finding."""

from __future__ import annotations

import re
from xml.etree import ElementTree

from fitcheck.errors import Finding
from fitcheck.gate import Gate
from fitcheck.report.words import plain

# What XML 1.0 (fifth edition, section 2.2) has no room for, whether escaped or not.
_NO_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def junit(gate: Gate, code: int, most: int) -> str:
    """One suite, in ASCII so that it survives any terminal."""
    suite = ElementTree.Element("testsuite", name="fitcheck")
    kept, left_out = gate.shown(most)
    _whole(suite, gate)
    for file, kind in sorted(gate.read.items()):
        _case(suite, kind, file)
    for finding in kept:
        _finding(suite, gate, finding)
    for problem, count in left_out.items():
        _say(_case(suite, problem, f"{count} more"), "system-out", f"{count} more of {problem} are left out")
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
        _say(case, "error", "incomplete: something that was asked for could not be read")


def _finding(suite: ElementTree.Element, gate: Gate, finding: Finding) -> None:
    """What is at the failing level fails, unless it is accepted; the rest is said in a test that passes."""
    case = _case(suite, finding.problem, f"{finding.place.key or finding.place.file} {gate.fingerprints[finding]}")
    case.set("file", _safe(finding.place.file))
    case.set("line", str(finding.place.line))
    reason = gate.reason(finding)
    if reason is not None:
        _say(case, "skipped", f"accepted: {reason}")
        _say(case, "system-out", str(finding))
    else:
        _say(case, "failure" if gate.fails(finding) else "system-out", str(finding))


def _case(suite: ElementTree.Element, kind: str, name: str) -> ElementTree.Element:
    return ElementTree.SubElement(suite, "testcase", classname=_safe(kind), name=_safe(name))


def _say(case: ElementTree.Element, tag: str, text: str) -> None:
    """Words inside a test; where readers look at an attribute only, there too."""
    element = ElementTree.SubElement(case, tag)
    element.text = _safe(text)
    if tag != "system-out":
        element.set("message", _safe(text))


def _safe(text: str) -> str:
    """Text on one line that XML can hold: what it cannot is spelled out."""
    return _NO_XML.sub(lambda found: found[0].encode("unicode_escape", "surrogatepass").decode(), plain(text))
