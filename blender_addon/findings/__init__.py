"""Findings as a scene keeps them: the list, their marks over the viewport, their picture, the way to a place."""
