"""Solids: one closed mesh per background piece, insert and side of the frame; their volumes, their files."""
