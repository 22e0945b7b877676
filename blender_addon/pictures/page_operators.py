"""The operator that writes the listing card.

A class's docstring is its tooltip, so it ends without a full stop.
"""

from __future__ import annotations

import bpy
from bpy.props import EnumProperty

from ...core.errors import UnusableInput
from ..bench.operator_helpers import has_design, may_change, refuse
from ..views import views
from . import finishing, render
from .picture_operators import PAPERS, design_name, folder_of


class GRAINSTACK_OT_write_card(bpy.types.Operator):
    """Write the listing card as HTML and PDF: the listing picture, size, weight, woods and care on one page"""

    bl_idname = "grainstack.write_card"
    bl_label = "Write Listing Card"
    bl_options = {"REGISTER"}

    paper: EnumProperty(
        name="Paper",
        description="The paper that the PDF is for",
        items=PAPERS,
        default="a4",
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_design(cls, context) and may_change(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        scene = context.scene
        name = design_name(scene)
        try:
            picture = render.picture_path(folder_of(scene), name, finishing.LISTING)
            if not picture.exists():
                raise UnusableInput(
                    str(picture), "", "there is no listing picture yet", "Render the listing view first"
                )
            html, _ = finishing.write_card(picture, views.design_of(scene), self.paper)
        except UnusableInput as error:
            return refuse(self, error)
        self.report({"INFO"}, f"Saved {html}")
        return {"FINISHED"}


CLASSES = (GRAINSTACK_OT_write_card,)
