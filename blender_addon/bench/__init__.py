"""Where a design is made: its fields, operators and panels."""
