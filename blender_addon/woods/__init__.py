"""Wood as Blender shows it: shader nodes, the look of each species, photos of boards, the eyes that look at it."""
