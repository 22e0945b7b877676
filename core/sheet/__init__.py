"""The bench sheet: what to cut, saw, glue and trim, in which order, and how far along it is."""
