"""A design in Blender's data: its objects, made and found; JSON and curves, both ways; glue; the section plane."""
