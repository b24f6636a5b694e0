"""The version of the program, as results and reports carry it."""

VERSION = "0.1.0"
