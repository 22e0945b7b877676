"""Every panel, list and menu draws only what exists, in every state of a scene."""

from types import SimpleNamespace

import bpy
import pytest
from grainstack.blender_addon.bench import design_panels, sidebar
from grainstack.blender_addon.entry import registration
from grainstack.blender_addon.views import views

from .bench import piece, rest, scene, select

PANELS = [cls for cls in registration.CLASSES if issubclass(cls, (bpy.types.Panel, bpy.types.Menu))]


CONTEXT = SimpleNamespace(
    preferences=SimpleNamespace(system=SimpleNamespace(ui_scale=1.0)),
    region=SimpleNamespace(width=320),
    scene=SimpleNamespace(grainstack=SimpleNamespace(document="")),
)


class Layout:
    """Stands in for Blender's: checks each property, operator, list and menu asked for, and keeps their names."""

    def __init__(self, drawn: list[str]) -> None:
        self.__dict__["drawn"] = drawn

    def __setattr__(self, name, value):
        assert name in bpy.types.UILayout.bl_rna.properties, name

    def _part(self, **_):
        return self

    row = column = split = box = grid_flow = lambda self, **kwargs: self._part(**kwargs)

    def separator(self, **_):
        pass

    def label(self, *, text="", icon="NONE", translate=True):
        assert isinstance(text, str)
        self._icon(icon)

    def prop(self, owner, name, *, text="", icon="NONE", index=-1, **_):
        assert name in owner.bl_rna.properties, name
        getattr(owner, name)
        assert isinstance(text, str)
        self._icon(icon)
        self.drawn.append(name)

    def prop_enum(self, owner, name, value):
        assert value in owner.bl_rna.properties[name].enum_items, value
        self.drawn.append(value)

    def operator(self, name, *, text="", icon="NONE", translate=True):
        rna = self._operator(name)
        self._icon(icon)
        return SimpleNamespace(**{prop.identifier: None for prop in rna.properties})

    def operator_menu_enum(self, name, choice, *, text="", icon="NONE"):
        assert choice in self._operator(name).properties
        self._icon(icon)

    def menu(self, name, **_):
        assert hasattr(bpy.types, name)

    def template_list(self, kind, _, owner, items, active, index, **more):
        assert hasattr(bpy.types, kind)
        assert index in active.bl_rna.properties
        listed = next(cls for cls in registration.CLASSES if cls.__name__ == kind)
        assert getattr(active, index) < max(len(getattr(owner, items)), 1)
        for item in list(getattr(owner, items))[:50]:
            if items != "objects" or item.grainstack.kind == "outline":
                listed.draw_item(None, CONTEXT, self, owner, item, 0, active, index)
        self.drawn.append(kind)

    def _operator(self, name):
        group, _, word = name.partition(".")
        self.drawn.append(name)
        return getattr(getattr(bpy.ops, group), word).get_rna_type()

    @staticmethod
    def _icon(icon):
        assert icon in bpy.types.UILayout.bl_rna.functions["label"].parameters["icon"].enum_items, icon


def drawn() -> dict[str, list[str]]:
    """What each panel that is to be seen draws."""
    real = bpy.context
    preferences = SimpleNamespace(system=SimpleNamespace(ui_scale=1.0))  # without a window Blender says 0
    region = SimpleNamespace(width=280)
    context = SimpleNamespace(
        scene=real.scene,
        active_object=real.active_object,
        region=region,
        preferences=preferences,
        space_data=SimpleNamespace(overlay=SimpleNamespace(show_overlays=True)),
    )
    seen = {}
    for cls in PANELS:
        if not hasattr(cls, "poll") or cls.poll(context):
            seen[cls.__name__] = []
            for draw in ("draw_header_preset", "draw"):
                if hasattr(cls, draw):
                    getattr(cls, draw)(SimpleNamespace(layout=Layout(seen[cls.__name__])), context)
    return seen


def test_an_empty_scene_shows_what_to_do_first(addon):
    seen = drawn()
    assert seen["GRAINSTACK_PT_design"] == ["grainstack.new_panel", "grainstack.open_design"]
    assert [name for name in seen if "_PT_" in name] == ["GRAINSTACK_PT_design"]


def test_every_view_has_its_button(bench):
    assert [name for name in drawn()["GRAINSTACK_PT_view"] if name in views.VIEWS] == list(views.VIEWS)


def test_a_bench_shows_its_panels_and_a_piece_its_own(bench):
    assert "GRAINSTACK_PT_piece" not in drawn()
    bpy.ops.grainstack.add_piece(shape="leaf")
    seen = drawn()
    assert "fit" in seen["GRAINSTACK_PT_piece"]
    assert "pocket_depth" in seen["GRAINSTACK_PT_piece"]
    assert len(seen["GRAINSTACK_PT_limits"]) == 6
    assert "GRAINSTACK_PT_segments" not in seen
    bpy.ops.grainstack.add_piece(shape="line")
    bpy.ops.grainstack.split_strip(count=3)
    seen = drawn()
    assert "line_width" in seen["GRAINSTACK_PT_piece"]
    assert "GRAINSTACK_UL_segments" in seen["GRAINSTACK_PT_segments"]


@pytest.mark.parametrize("view", ["finished", "exploded", "overlap"])
def test_every_view_and_trouble_can_be_drawn(bench, view):
    bpy.ops.grainstack.add_piece(shape="leaf")
    scene().grainstack.view = view
    piece("leaf").location.x = 0.29
    rest()
    select("leaf")
    piece("leaf").data.splines[0].use_cyclic_u = False
    rest()
    assert scene().grainstack.trouble
    assert "grainstack.save_design" in drawn()["GRAINSTACK_PT_design"]


def test_the_list_of_pieces_is_in_their_order_whatever_they_are_called(bench):
    for shape in ("rectangle", "leaf", "disc"):
        bpy.ops.grainstack.add_piece(shape=shape, size=0.02)
    listed = SimpleNamespace(bitflag_filter_item=1, filter_name="")
    shown, places = design_panels.GRAINSTACK_UL_pieces.filter_items(listed, bpy.context, scene(), "objects")
    ranked = sorted(
        (place, item.grainstack.id) for place, item, on in zip(places, scene().objects, shown, strict=True) if on
    )
    assert [name for _, name in ranked] == ["rectangle", "leaf", "disc"]
    assert sorted(places) == list(range(len(scene().objects)))


def test_findings_are_counted_in_the_header_and_told_in_full_once_chosen(bench):
    seen = drawn()["GRAINSTACK_PT_findings"]
    assert "GRAINSTACK_UL_findings" not in seen
    for _ in range(2):
        bpy.ops.grainstack.add_piece(shape="rectangle", size=0.04)
    piece("rectangle-2").location.x += 0.0403
    rest()
    seen = drawn()["GRAINSTACK_PT_findings"]
    assert "GRAINSTACK_UL_findings" in seen
    assert "grainstack.take_remedy" not in seen
    scene().grainstack.active_finding = 0
    assert "grainstack.take_remedy" in drawn()["GRAINSTACK_PT_findings"]
    for switch in ("show_warnings", "only_active_piece"):
        setattr(scene().grainstack, switch, not getattr(scene().grainstack, switch))
        assert drawn()["GRAINSTACK_PT_findings"]


@pytest.mark.parametrize(
    ("wood", "line"),
    [
        ("wenge", "Dust sensitizer: eyes, airways; skin"),
        ("basswood", "Dust harms the lungs, as every wood's does"),
        ("yellowheart", "From memory: dust irritant: airways"),
        ("no such wood", ""),
    ],
)
def test_cautions_of_a_wood_are_shown_beside_it(wood, line):
    said = []
    layout = Layout([])
    layout.__dict__["label"] = lambda *, text="", **_: said.append(text)
    sidebar.wood_cautions(layout, CONTEXT, wood)
    assert " ".join(said).startswith(line) if line else not said


def test_woods_and_a_pieces_board_can_be_drawn(bench):
    assert "grainstack.add_board" in drawn()["GRAINSTACK_PT_woods"]
    bpy.ops.grainstack.add_piece(shape="leaf")
    bpy.ops.grainstack.add_wood(name="Quince", looks_like="pear")
    seen = drawn()
    assert {"like", "colour_cut", "density"} <= set(seen["GRAINSTACK_PT_woods"])
    assert {"cut", "board", "board_at", "board_turn", "leaves"} <= set(seen["GRAINSTACK_PT_piece_board"])
    bpy.ops.grainstack.glue_blank()
    assert "grainstack.plain_blank" in drawn()["GRAINSTACK_PT_piece_board"]
