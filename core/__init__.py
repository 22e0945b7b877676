"""Grainstack's exact geometry: outlines, fits, stack and solids of an inlaid wood panel. Knows no Blender."""
