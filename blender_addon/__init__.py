"""Grainstack in Blender: opens a panel design, shows it in wood, renders its pictures."""

from .registration import register, unregister

__all__ = ["register", "unregister"]
