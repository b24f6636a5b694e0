"""Chosen kits, frozen in a file and judged anew."""
