"""What is wrong with a design, where, and what to do next; and the check that reports it."""
