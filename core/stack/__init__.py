"""The stack: where every pocket and insert lies, what overlaps what, in which batches to work, and why."""
