"""Where Blender calls us: a fault of ours ends as one line for the maker, never as a traceback or a timer that dies.

Operators report it, timers print it and sleep until they are set again.
"""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable
from typing import Any

import bpy

from ..core.errors import UnusableInput
from ..core.faults import told

_METHODS = ("invoke", "execute", "modal")


def guard(cls: type[bpy.types.Operator]) -> None:
    """Let the operator report what it raises. To be called before Blender is told of the class; twice does no harm."""
    for name in _METHODS:
        method = getattr(cls, name, None)
        if callable(method) and not getattr(method, "guarded", False) and hasattr(method, "__code__"):
            setattr(cls, name, _guarded(method))


def _guarded(method: Callable[..., set[str]]) -> Callable[..., set[str]]:
    """The method, with as many arguments: Blender counts them."""
    if method.__code__.co_argcount == 2:

        def alone(self: bpy.types.Operator, context: bpy.types.Context) -> set[str]:
            return _reported(self, method, context)

        made: Any = alone
    else:

        def with_event(self: bpy.types.Operator, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
            return _reported(self, method, context, event)

        made = with_event
    made.guarded = True
    made.__doc__ = method.__doc__
    return made


def _reported(operator: bpy.types.Operator, method: Callable[..., set[str]], *arguments: Any) -> set[str]:
    """What the method returns.

    Where it raises, what it had changed by then stays as a step that can be undone: Blender crashes where something was
    made without one.
    """
    try:
        return method(operator, *arguments)
    except UnusableInput as error:
        operator.report({"ERROR"}, str(error))
    except Exception as fault:
        operator.report({"ERROR"}, told(fault, operator.bl_label))
    return {"FINISHED"} if "UNDO" in operator.bl_options else {"CANCELLED"}


def timer(doing: str) -> Callable[[Callable[[], float | None]], Callable[[], float | None]]:
    """For functions that Blender calls by the clock: after a fault they sleep until they are set again."""

    def guarded(tick: Callable[[], float | None]) -> Callable[[], float | None]:
        @functools.wraps(tick)
        def safe() -> float | None:
            try:
                return tick()
            except Exception as fault:
                print(told(fault, doing), file=sys.stderr)
                return None

        return safe

    return guarded
