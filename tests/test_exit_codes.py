"""Exit codes of the gates, told by the real program in a process of its own, and where its words go."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import tomli_w

from fitcheck import cli
from tests.chosen_kits import HAY, PLOUGH, ROOT, WINCH, name_of, raw_of, waive, write

# Files of the samples, and bundles of the workshop that the fixture below sets up.
FINE, FAULT, DOUBT = "accepted/every-family.toml", "refused/comma.toml", "doubted/no-source.toml"
GOOD, LEAVE, BAD = (f"bundles/{name_of(kit)}.toml" for kit in (HAY, PLOUGH, WINCH))
DAY = ["--on", "2029-12-31"]  # the last on which the waiver of LEAVE holds

# What is typed in the workshop, and the exit code that it must end with.
TABLE = [
    (["check", FINE], 0),
    (["check", FINE, "accepted/job.toml"], 0),
    (["check", "parts.toml", "profile.toml", "job.toml", "bundles"], 0),
    (["check", FAULT], 1),
    (["check", "lost.toml"], 1),
    (["check", FINE, "doubted/lever-check.toml", "--fail-at", "caution"], 1),
    (["check", DOUBT], 0),
    (["check", DOUBT, "--fail-at", "caution"], 1),
    (["check", FAULT, "--format", "json"], 1),
    (["check", FAULT, "--format", "sarif"], 1),
    (["check", FAULT, "--format", "junit"], 1),
    (["check", "nowhere.toml", "--format", "junit"], 3),
    (["check", "empty"], 3),
    (["check", FAULT, "nowhere.toml"], 3),
    (["check"], 2),
    (["check", FAULT, "--format", "xml"], 2),
    (["check", FAULT, "--most", "0"], 2),
    (["check", FAULT, "--accept", "no file named"], 2),
    (["check", FAULT, "--accepted", "nowhere.toml"], 3),
    (["check", FAULT, "--accepted", "accepted/job.toml"], 3),
    (["check", FAULT, "--accepted", "refused/comma.toml/known.toml", "--accept", "a file is no folder"], 4),
    (["judge", GOOD], 0),
    (["judge", GOOD, LEAVE, *DAY], 0),
    (["judge", GOOD, LEAVE, *DAY, "--fail-at", "caution"], 1),
    (["judge", LEAVE, "--on", "2030-01-01"], 1),
    (["judge", GOOD, BAD], 1),
    (["judge", GOOD, BAD, "--format", "json"], 1),
    (["judge", GOOD, BAD, "--format", "sarif"], 1),
    (["judge", GOOD, BAD, "--format", "junit"], 1),
    (["judge", BAD, "lost.toml"], 3),
    (["judge", GOOD, "nowhere.toml", "--format", "sarif"], 3),
    (["judge", "broken.toml"], 3),
    (["judge", "job.toml"], 3),
    (["judge", "empty"], 3),
    (["judge"], 2),
    (["judge", GOOD, "--on", "2029-02-30"], 2),
    (["judge", GOOD, "--fail-at", "reject"], 2),
    (["bundle", "job.toml", HAY, "--to", "again/hay.toml"], 0),
    (["bundle", "job.toml", WINCH, "--to", "again/winch.toml"], 1),
    (["bundle", "job.toml", HAY], 2),
    (["bundle", "job.toml", HAY + "x", "--to", "x.toml"], 2),
    (["bundle", "nowhere.toml", HAY, "--to", "x.toml"], 3),
    (["bundle", "job.toml", HAY, "--to", BAD], 4),
    (["impact", "job.toml", "new.toml"], 0),
    (["impact", "strict.toml", "--without", "disc.lorry-240"], 1),
    (["impact", "job.toml"], 2),
    (["impact", "job.toml", "--without", "nobody"], 2),
    (["impact", "job.toml", "job.toml"], 3),
    (["impact", "nowhere.toml", "new.toml"], 3),
    (["changes", "old", "old"], 0),
    (["changes", "old", "later"], 1),
    (["changes", "old"], 2),
    (["changes", "old", "old", "--tolerance", "2"], 2),
    (["changes", "old", "empty"], 3),
    (["rules", "default"], 0),
    (["rules", "accepted/profile.toml"], 0),
    (["rules", "refused/profile-leaves.toml"], 3),
    (["rules", "nowhere.toml"], 3),
    (["rules"], 2),
]


@pytest.fixture(scope="module")
def shop(room: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The samples, bundles of every kind, and two results of which the later has lost its only passing kits."""
    folder = Path(shutil.copytree(room, tmp_path_factory.mktemp("shop") / "room"))
    for samples in ("accepted", "refused", "doubted"):
        shutil.copytree(ROOT / "tests" / samples, folder / samples)
    waive(folder, PLOUGH, "port-clearance")
    (folder / "empty").mkdir()
    hay = (folder / GOOD).read_text(encoding="utf-8")
    (folder / "lost.toml").write_text(hay.replace('"../', '"').replace("lorry-240", "lorry-999"), encoding="utf-8")
    (folder / "broken.toml").write_text('train = "external"\nparts = 3\n', encoding="utf-8")
    raw = raw_of(folder)
    new = {"disc": {"lorry-241": {**raw["disc"]["lorry-240"], "name": "Another"}}}
    (folder / "new.toml").write_text(tomli_w.dumps(new), encoding="utf-8")
    strict = {"catalogs": ["parts.toml"], "profile": "profile.toml", "applications": ["hay-lorry"], "need_pass": True}
    (folder / "strict.toml").write_text(tomli_w.dumps(strict), encoding="utf-8")
    assert cli.run(["screen", str(folder / "strict.toml"), "--out", str(folder / "old")]) == 0
    strong = raw["application"] | {"hay-lorry": {**raw["application"]["hay-lorry"], "engine_torque": "900 N m"}}
    write(folder, raw | {"application": strong})
    assert cli.run(["screen", str(folder / "strict.toml"), "--out", str(folder / "later")]) == 1
    write(folder, raw)
    return folder


def started(typed: list[str], folder: Path, stdout: int = subprocess.PIPE) -> subprocess.CompletedProcess[str]:
    known = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
    command = [sys.executable, "-m", "fitcheck", *typed]
    return subprocess.run(
        command, cwd=folder, env=known, stdout=stdout, stderr=subprocess.PIPE, text=True, encoding="utf-8", check=False
    )


@pytest.mark.parametrize(("typed", "code"), TABLE, ids=[" ".join(typed) for typed, _ in TABLE])
def test_the_real_program_ends_with(typed: list[str], code: int, shop: Path) -> None:
    ended = started(typed, shop)
    assert ended.returncode == code, ended.stdout + ended.stderr
    assert "Traceback" not in ended.stderr
    if typed[0] in ("check", "judge", "rules"):
        assert bool(ended.stdout) != bool(ended.stderr)
    elif code in (0, 1):
        assert ended.stdout
    else:
        assert ended.stderr


@pytest.mark.parametrize(
    "typed",
    [["check", FINE], ["judge", GOOD], ["bundle", "job.toml", HAY, "--to", "4/hay.toml"],
     ["impact", "job.toml", "new.toml"], ["changes", "old", "old"], ["rules", "default"]],
    ids=lambda typed: typed[0],
)  # fmt: skip
def test_what_cannot_be_told_is_4(typed: list[str], shop: Path) -> None:
    with Path(os.devnull).open() as only_to_read:
        ended = started(typed, shop, only_to_read.fileno())
    assert ended.returncode == 4
    assert ended.stderr.startswith("fitcheck: could not finish")
