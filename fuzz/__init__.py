"""Random designs that are hard on the geometry, a judge for them, and a shrinker that makes a failure small.

`python build.py fuzz` runs thousands of them; the test suite runs a few hundred. docs/reliability.md tells what is
promised and how to read the table.
"""
