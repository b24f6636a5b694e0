"""Equations of the release train: pure functions of arrays in SI, one file per question of the trade."""
