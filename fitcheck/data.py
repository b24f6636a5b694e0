"""Where the shipped files lie: inside the package in a wheel, beside it in a checkout or an editable install."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path


def folder(name: str) -> Traversable:
    """The shipped folder of that name, `schemas` or `catalogs`."""
    packaged = files("fitcheck") / "_data" / name
    return packaged if packaged.is_dir() else Path(__file__).resolve().parent.parent / name
