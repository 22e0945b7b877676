"""What each view shows: lifts, cuts, layers, glue lines, the place of a close look, the places of labels."""
