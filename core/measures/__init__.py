"""Measures of what is left standing, bent, sawn, moved or seen: one module each."""
