"""Kits, and trains, side by side: what differs, and which comes first by the house's own order."""
