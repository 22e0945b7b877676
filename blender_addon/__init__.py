"""Grainstack in Blender: properties, operators, panels, scene building. Knows no geometry of its own."""
