"""Blender's units: Grainstack's millimetres, Blender's metres."""

METRES = 0.001
"""One millimetre in Blender units."""
