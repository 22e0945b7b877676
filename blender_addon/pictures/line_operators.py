"""The lines to cut along, written from the sidebar.

A class's docstring is its tooltip, so it ends without a full stop.
"""

from __future__ import annotations

import bpy
from bpy.props import BoolProperty, EnumProperty, IntProperty

from ...core.errors import UnusableInput
from ..bench.operator_helpers import has_design, may_change, progress, redraw, refuse
from ..bench.sidebar import OpenedPanel
from ..views import cutter_proof, views
from .picture_operators import PAPERS, folder_named

ENDING = "-lines"
"""Lines go into a folder of their own, named for the design: a new set replaces an older one as a whole."""


class GRAINSTACK_OT_write_lines(bpy.types.Operator):
    """Write files of the lines to cut along: the pockets and inserts of each batch, and full-size templates"""

    bl_idname = "grainstack.write_lines"
    bl_label = "Write Lines"
    bl_options = {"REGISTER"}

    formats: EnumProperty(
        name="Formats",
        description="Choose whichever your machine's software reads best; both hold the same lines",
        items=(
            ("both", "SVG and DXF", "Write each file in both formats"),
            ("svg", "SVG", "Write SVG only"),
            ("dxf", "DXF", "Write DXF only"),
        ),
        default="both",
    )
    curves: EnumProperty(
        name="Curves in DXF",
        description="How curves are written: arcs suit most machines; try splines or short straight lines only if "
        "yours cannot read them",
        items=(
            ("arcs", "Arcs", "Straight lines and true arcs"),
            ("splines", "Splines", "One smooth curve for each line"),
            (
                "polylines",
                "Short Lines",
                "Short straight lines, in the SVG files too, for software that reads no curves",
            ),
        ),
        default="arcs",
    )
    paper: EnumProperty(
        name="Paper",
        description="The paper that you print the full-size templates on",
        items=PAPERS,
        default="a4",
    )
    coupon: BoolProperty(
        name="Test-Fit Coupon",
        description="Write the coupon instead: a small test piece to cut and measure before you cut the panel",
        default=False,
        options={"SKIP_SAVE"},
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_design(cls, context) and may_change(cls, context)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(self, width=360)

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split, layout.use_property_decorate = True, False
        for choice in ("formats", "curves", "paper"):
            layout.prop(self, choice)

    def execute(self, context: bpy.types.Context) -> set[str]:
        # Heavy, and else loaded whenever Blender starts.
        from ...core.lines.coupon import write_coupon
        from ...core.lines.write import Choices, write_lines

        choices = Choices(("svg", "dxf") if self.formats == "both" else (self.formats,), self.curves, self.paper)
        try:
            folder = folder_named(context.scene, ENDING)
            stack = views.design_of(context.scene).stack
            with progress(context, 8) as show:
                if self.coupon:
                    contents = write_coupon(stack.design, folder, choices, progress=show)
                else:
                    contents = write_lines(stack, folder, choices, progress=show)
        except UnusableInput as error:
            return refuse(self, error)
        self.report({"INFO"}, f"Saved {contents.parent}")
        return {"FINISHED"}


class GRAINSTACK_OT_prove_lines(bpy.types.Operator):
    """Show on screen what the cutter would leave, and compare that with the design. Nothing is sent to a machine"""

    bl_idname = "grainstack.prove_lines"
    bl_label = "Simulate the Cut"
    bl_options = {"REGISTER"}

    batch: IntProperty(name="Batch", description="The batch whose lines are simulated", default=1, min=1)
    what: EnumProperty(
        name="Cut",
        description="Pockets or inserts",
        items=(
            ("pockets", "Pockets", "The pockets of the batch"),
            ("inserts", "Inserts", "The inserts of the batch, shown where they will lie in the panel"),
        ),
        default="pockets",
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_design(cls, context)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(self)

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            opened = views.design_of(context.scene)
            proof = cutter_proof.prove(opened, self.batch, self.what)
        except UnusableInput as error:
            return refuse(self, error)
        redraw(context)
        if proof.findings:
            first = proof.findings[0]
            more = f" ({len(proof.findings) - 1} more)" if len(proof.findings) > 1 else ""
            self.report({"ERROR"}, f"{first.code}: {first.text}{more}. {first.remedy}")
            return {"CANCELLED"}
        self.report({"INFO"}, f"Batch {self.batch}, {self.what}: {_agreement(proof)}")
        return {"FINISHED"}


def _agreement(proof: cutter_proof.CutterProof) -> str:
    """How well lines without a finding agree with the design."""
    if not proof.count:
        return "no lines to cut along"  # a groove is filled with a strip, which is ripped
    lines = "the line agrees" if proof.count == 1 else f"all {proof.count} lines agree"
    return f"{lines} with the design to {max(proof.worst, 0.001):.3f} mm"


class GRAINSTACK_OT_hide_proof(bpy.types.Operator):
    """Take the simulated cut off the screen again"""

    bl_idname = "grainstack.hide_proof"
    bl_label = "Hide the Simulation"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, _context: bpy.types.Context) -> bool:
        return cutter_proof.Shown.proof is not None

    def execute(self, context: bpy.types.Context) -> set[str]:
        cutter_proof.Shown.proof = None
        redraw(context)
        return {"FINISHED"}


class GRAINSTACK_PT_lines(OpenedPanel, bpy.types.Panel):
    """The lines to cut along."""

    bl_label = "Lines to Cut"
    bl_order = 10
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        buttons = self.layout.column(align=True)
        buttons.operator("grainstack.write_lines", icon="EXPORT").coupon = False
        buttons.operator("grainstack.write_lines", text="Write Test-Fit Coupon", icon="MOD_LENGTH").coupon = True
        proof = self.layout.row(align=True)
        proof.operator("grainstack.prove_lines", icon="PLAY")
        if cutter_proof.Shown.proof is not None:
            proof.operator("grainstack.hide_proof", text="", icon="X")
        self.layout.prop(context.scene.grainstack, "folder")


CLASSES = (
    GRAINSTACK_OT_write_lines,
    GRAINSTACK_OT_prove_lines,
    GRAINSTACK_OT_hide_proof,
    GRAINSTACK_PT_lines,
)
