"""Set up and run from a fresh checkout: `python3 ci/start.py demo`, `python3 ci/start.py test`.

Needs only the standard library. Makes `.venv`, installs the checkout into it, runs; a second call finds all that done
and runs at once. Written in old syntax on purpose, so that a Python that is too old can still say so.
"""

import hashlib
import json
import os
import shutil
import subprocess
import sys

OLDEST = (3, 11)
OLDEST_TEXT = "Python %d.%d" % OLDEST
ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
VENV = os.path.join(ROOT, ".venv")
PYTHON = os.path.join(VENV, *(("Scripts", "python.exe") if os.name == "nt" else ("bin", "python")))
BASE = getattr(sys, "_base_executable", None) or sys.executable  # never the Python of a .venv that may be made anew
OURS = os.path.join(VENV, "made-by-start")  # written first and kept: only such an environment is ever removed
STAMP = os.path.join(VENV, "installed-by-start.json")  # removed before installing, written after: missing means cut short

USAGE = """usage: python3 ci/start.py demo [ARGUMENT...]   install, then run `fitcheck demo`
       python3 ci/start.py test [ARGUMENT...]   install, then lint, check types and run all tests;
                                                with arguments: only pytest with these, such as `-k name`
       python3 ci/start.py bench [SIZE...]      install, then time the gates, and kits per second and memory on one core
"""


class CannotStart(Exception):
    """Setting up failed; the message says what to do about it."""


def say(text):
    # type: (str) -> None
    """Tell the person on stderr: stdout belongs to what is run."""
    sys.stderr.write(text + "\n")
    sys.stderr.flush()


def run(*command):
    # type: (str) -> int
    """Run a command in sight of the person; a command that a signal ended counts as a shell would count it."""
    sys.stdout.flush()
    code = subprocess.call(command)
    return code if code >= 0 else 128 - code


def works(*command):
    # type: (str) -> bool
    """Whether a command runs and ends well; silent."""
    try:
        return subprocess.call(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) == 0
    except OSError:
        return False


def require_python():
    # type: () -> None
    """Refuse a Python that is too old, naming a newer one if the path has one."""
    if sys.version_info[:2] >= OLDEST:
        return
    newer = [name for name in ("python3.%d" % minor for minor in range(30, OLDEST[1] - 1, -1)) if works(name, "--version")]
    advice = "Here is one: type `%s` in place of `python3`." % newer[0] if newer else "Install one and run this with it."
    raise CannotStart("fitcheck needs %s or newer; this is %s. %s" % (OLDEST_TEXT, sys.version.split()[0], advice))


def write(path, text):
    # type: (str, str) -> None
    """Write a small file whole or not at all."""
    with open(path + ".part", "w") as file:
        file.write(text)
    os.replace(path + ".part", path)


def wanted(extra):
    # type: (str) -> dict[str, str]
    """What an installation must match to be used again: this folder, this Python, these requirements, this extra."""
    with open(os.path.join(ROOT, "pyproject.toml"), "rb") as file:
        requirements = hashlib.sha256(file.read()).hexdigest()
    return {"folder": ROOT, "python": "%d.%d" % sys.version_info[:2], "requirements": requirements, "extra": extra}


def installed():
    # type: () -> dict[str, str]
    """What the stamp says is installed; empty where there is none or it cannot be read."""
    try:
        with open(STAMP) as file:
            return dict(json.load(file))
    except (OSError, ValueError):
        return {}


def make_environment(fresh):
    # type: (bool) -> None
    """Make sure of a working `.venv`: ours is made anew unless it is still good, one made by hand is used or left alone."""
    usable = works(PYTHON, "-c", "import sys; sys.exit(sys.version_info[:2] < (%d, %d))" % OLDEST)
    ours = os.path.exists(OURS)
    if usable and (fresh or not ours):
        return
    if os.path.exists(VENV) and not ours:
        raise CannotStart("%s was not made by this command and is no working %s or newer. Move it away." % (VENV, OLDEST_TEXT))
    if ours:
        shutil.rmtree(VENV)
    os.makedirs(VENV)
    write(OURS, "Made by ci/start.py, which may remove it and make it again.\n")
    # Some systems ship Python without ensurepip: there the environment is made bare and filled from outside.
    whole = works(BASE, "-c", "import ensurepip") and works(BASE, "-m", "venv", VENV)
    if not whole and run(BASE, "-m", "venv", "--without-pip", VENV) != 0:
        raise CannotStart("This Python cannot make an environment. On Debian and its kin: apt-get install python3-venv")


def installer():
    # type: () -> tuple[str, ...]
    """The command that installs into `.venv`: its own pip, or else this Python's pip from outside."""
    if works(PYTHON, "-m", "pip", "--version"):
        return (PYTHON, "-m", "pip", "install")
    if works(BASE, "-m", "pip", "--python", PYTHON, "--version"):
        return (BASE, "-m", "pip", "--python", PYTHON, "install")
    raise CannotStart("There is no pip that can install into .venv. On Debian and its kin: apt-get install python3-venv")


def install(extra):
    # type: (str) -> None
    """Make sure that `.venv` holds this checkout (editable, so that it is never stale) with the extra, if one is asked for."""
    have, want = installed(), wanted(extra)
    if os.path.exists(PYTHON) and have in (want, wanted("test")):  # what the tests need is more than what the demo needs
        return
    say("Setting up .venv; the first time this takes a minute or so.")
    make_environment(fresh=all(have.get(key) == want[key] for key in ("folder", "python")))
    if os.path.exists(STAMP):
        os.remove(STAMP)
    target = "%s[%s]" % (ROOT, extra) if extra else ROOT
    if run(*installer(), "--quiet", "--disable-pip-version-check", "--editable", target) != 0:
        raise CannotStart("Installing failed; the lines above say why (it needs a package index). Then type the same again.")
    write(STAMP, json.dumps(want))


def demo(arguments):
    # type: (list[str]) -> int
    """Run the demo in the folder where the person stands."""
    install("")
    return run(PYTHON, "-m", "fitcheck", "demo", *arguments)


def test(arguments):
    # type: (list[str]) -> int
    """Lint, check types and run every test with its coverage gate; with arguments only pytest, with these."""
    install("test")
    os.chdir(ROOT)
    if arguments:
        say("Only pytest, with these arguments: no lint, no types, no coverage gate.")
        return run(PYTHON, "-m", "pytest", *arguments)
    failed = 0
    for name, words in (("ruff", ("check", ".")), ("mypy", ())):
        say("== " + name)
        if run(PYTHON, "-m", name, *words) != 0:
            failed = 1
            say("%s found faults, above: this run fails whatever the tests say." % name)
    tests = (PYTHON, "-m", "pytest", "-q", "-n", "auto", "--dist", "loadgroup", "-m")
    say("== pytest, with coverage")
    failed = run(*tests, "not no_cover", "--cov", "--cov-report=term") or failed
    say("== pytest, what covers nothing more and runs much faster untraced")
    return run(*tests, "no_cover") or failed


def bench(sizes):
    # type: (list[str]) -> int
    """Measure speed and memory."""
    install("")
    return run(PYTHON, os.path.join(ROOT, "ci", "bench.py"), *sizes)


def main(arguments):
    # type: (list[str]) -> int
    """Translate the first word; 2 is wrong usage, 4 means that setting up failed."""
    commands = {"demo": demo, "test": test, "bench": bench}
    if not arguments or arguments[0] not in commands:
        say(USAGE)
        return 2
    try:
        require_python()
        return commands[arguments[0]](arguments[1:])
    except (CannotStart, OSError) as error:
        say("Cannot start: %s" % error)
        return 4
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
