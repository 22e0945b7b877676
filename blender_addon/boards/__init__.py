"""Woods and boards of the maker's own, and where pieces lie on them: fields, operators and panels."""
