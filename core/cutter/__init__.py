"""What a cutter can do: the rounded fit of an outline, walls that lean, the sizes that cutters come in."""
