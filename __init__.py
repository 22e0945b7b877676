"""Grainstack in Blender: opens a panel design, shows it in wood, renders its pictures."""


def register() -> None:
    """Enable the add-on."""
    from .blender_addon.entry import (
        registration,  # only here: importing the package must not start Blender's module yet
    )

    registration.register()


def unregister() -> None:
    """Disable it."""
    from .blender_addon.entry import registration

    registration.unregister()
