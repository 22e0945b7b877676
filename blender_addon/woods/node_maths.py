"""Arithmetic that builds shader nodes: formulas are written once, and run on sockets and on NumPy arrays alike.

A `Value` is an output socket; adding or multiplying values adds Math nodes. Terms that are multiplied by 0 vanish
while they are written, so a species pays only for the features that it has. The functions below take a Value,
a number or an array, which lets the mean of a shader's formula be integrated without rendering.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeAlias, TypeVar, overload

import bpy
import numpy as np
from numpy.typing import NDArray

from .. import versions

Array: TypeAlias = NDArray[np.float64]
MATHS: dict[str, Callable[[Any], Any]] = {
    "floor": np.floor,
    "fract": lambda x: x - np.floor(x),
    "abs": np.abs,
    "sqrt": np.sqrt,
    "sin": np.sin,
}


class Value:
    """A float or vector output of a node in `tree`."""

    def __init__(self, tree: bpy.types.NodeTree, socket: bpy.types.NodeSocket) -> None:
        self.tree, self.socket = tree, socket

    def node(self, kind: str, inputs: Inputs = (), output: int | str = 0, **settings: object) -> Value:
        return node(self.tree, kind, inputs, output, **settings)

    def maths(self, operation: str, *operands: Operand, use_clamp: bool = False) -> Value:
        return self.node("ShaderNodeMath", operands, operation=operation, use_clamp=use_clamp)

    def vector(self, operation: str, *operands: Operand, output: int | str = 0) -> Value:
        return self.node("ShaderNodeVectorMath", operands, output, operation=operation)

    def __add__(self, other: Value | float) -> Value:
        return self if _is(other, 0) else self.maths("ADD", self, other)

    def __sub__(self, other: Value | float) -> Value:
        return self if _is(other, 0) else self.maths("SUBTRACT", self, other)

    def __rsub__(self, other: float) -> Value:
        return self.maths("SUBTRACT", other, self)

    def __mul__(self, other: Value | float) -> Any:  # a Value, or 0.0 where the term vanishes
        if _is(other, 0):
            return 0.0
        return self if _is(other, 1) else self.maths("MULTIPLY", self, other)

    def __truediv__(self, other: Value | float) -> Any:
        return self.maths("DIVIDE", self, other) if isinstance(other, Value) else self * (1 / other)

    def __pow__(self, other: Value | float) -> Value:
        return self.maths("POWER", self, other)

    def __neg__(self) -> Any:
        return self * -1.0

    __radd__, __rmul__ = __add__, __mul__


Operand: TypeAlias = Value | float | Sequence[float] | None
"""What a node's input takes: another node's output, a number, a vector; None leaves it as it is."""
Inputs: TypeAlias = Sequence[Operand] | Mapping[str, Operand]
Quantity = TypeVar("Quantity", Value, Array)
"""What formulas are written for."""


def node(tree: bpy.types.NodeTree, kind: str, inputs: Inputs = (), output: int | str = 0, **settings: object) -> Value:
    """Add a node and connect its inputs, by order (None skips one) or by name in a dict; returns one output."""
    new = tree.nodes.new(kind)
    for name, setting in settings.items():
        setattr(new, name, setting)
    named = dict(inputs) if isinstance(inputs, Mapping) else dict(enumerate(inputs))
    for key, value in named.items():
        if isinstance(value, Value):
            tree.links.new(value.socket, new.inputs[key])
        elif value is not None:
            new.inputs[key].default_value = value
    return Value(tree, new.outputs[output])


def floor(x: Quantity) -> Quantity:
    """The whole number below."""
    return _apply("floor", x)


def fract(x: Quantity) -> Quantity:
    """What is left above the whole number below."""
    return _apply("fract", x)


def absolute(x: Quantity) -> Quantity:
    """The size without the sign."""
    return _apply("abs", x)


def sine(x: Quantity) -> Quantity:
    """Sine of radians."""
    return _apply("sin", x)


def triangle(x: Quantity) -> Quantity:
    """0 at whole numbers, 1 halfway between them."""
    if isinstance(x, Value):
        doubled: Value = x.maths("PINGPONG", x, 0.5) * 2.0
        return doubled
    return 1 - np.abs(1 - 2 * (x - np.floor(x)))


def clamp(x: Quantity) -> Quantity:
    """`x` held between 0 and 1."""
    if not isinstance(x, Value):
        return np.clip(x, 0, 1)
    if x.socket.node.bl_idname == "ShaderNodeMath" and not x.socket.is_linked:
        x.socket.node.use_clamp = True  # nothing has used it unheld yet: saves a node
        return x
    return x.maths("ADD", x, 0.0, use_clamp=True)


@overload
def hypotenuse(x: Value, y: Value | float) -> Value: ...


@overload
def hypotenuse(x: Array, y: Array | float) -> Array: ...


def hypotenuse(x: Value | Array, y: Value | Array | float) -> Value | Array:
    """Length of (x, y)."""
    if isinstance(x, Value):
        assert not isinstance(y, np.ndarray)
        return x.vector("LENGTH", combine(x.tree, x, y, 0.0), output="Value")
    assert not isinstance(y, Value)
    return np.hypot(x, y)


def combine(tree: bpy.types.NodeTree, x: Operand, y: Operand, z: Operand) -> Value:
    """The vector (x, y, z)."""
    return node(tree, "ShaderNodeCombineXYZ", (x, y, z))


def separate(vector: Value) -> tuple[Value, Value, Value]:
    """The three parts of a vector."""
    first = vector.node("ShaderNodeSeparateXYZ", (vector,))
    return first, Value(first.tree, first.socket.node.outputs[1]), Value(first.tree, first.socket.node.outputs[2])


def noise(position: Value, octaves: int = 1, dimensions: str = "3D") -> Value:
    """Smooth noise about 0.5."""
    inputs: Inputs = {"Scale": 1.0, "Detail": octaves - 1.0, "W" if dimensions == "1D" else "Vector": position}
    return position.node("ShaderNodeTexNoise", inputs, versions.NOISE, noise_dimensions=dimensions)


def white(position: Value, dimensions: str = "1D", output: str = "Value") -> Value:
    """A random number (or colour) for each position, even from 0 to 1."""
    inputs = {"W" if dimensions == "1D" else "Vector": position}
    return position.node("ShaderNodeTexWhiteNoise", inputs, output, noise_dimensions=dimensions)


def arrange(tree: bpy.types.NodeTree) -> None:
    """Put every node in a column left of all that need it, so that the tree reads from left to right."""
    column: dict[Any, int] = {}
    users: dict[Any, list[Any]] = {n: [] for n in tree.nodes}
    for link in tree.links:
        users[link.from_node].append(link.to_node)

    def depth(one: bpy.types.Node) -> int:
        if one not in column:
            column[one] = 1 + max((depth(user) for user in users[one]), default=-1)
        return column[one]

    filled: dict[int, int] = {}
    for one in tree.nodes:
        row = filled.get(depth(one), 0)
        filled[depth(one)] = row + 1
        one.location = (-200.0 * depth(one), -180.0 * row)


def _apply(name: str, x: Quantity) -> Quantity:
    if isinstance(x, Value):
        return x.maths({"abs": "ABSOLUTE", "sin": "SINE"}.get(name, name.upper()), x)
    applied: Array = MATHS[name](x)
    return applied


def _is(other: object, number: float) -> bool:
    return isinstance(other, int | float) and other == number
