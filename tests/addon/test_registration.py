import bpy
import grainstack
import pytest
from grainstack.blender_addon.entry import properties, registration
from grainstack.blender_addon.views import live

PANELS = [cls for cls in registration.CLASSES if issubclass(cls, bpy.types.Panel) and cls.bl_region_type == "UI"]
OPERATORS = [cls for cls in registration.CLASSES if issubclass(cls, bpy.types.Operator)]


def footprint() -> dict:
    """Everything that an add-on may leave behind in Blender."""
    return {
        "types": {name for name in dir(bpy.types) if "grainstack" in name.lower()},
        "classes": {cls.__name__ for cls in bpy.types.PropertyGroup.__subclasses__() if cls.is_registered},
        "operators": list(dir(bpy.ops.grainstack)),
        "scene": hasattr(bpy.types.Scene, "grainstack"),
        "object": hasattr(bpy.types.Object, "grainstack"),
        "menu": len(getattr(bpy.types.TOPBAR_MT_file_import.draw, "_draw_funcs", [])),
        "timer": bpy.app.timers.is_registered(live._tick),
        "handlers": {
            name: len(handlers)
            for name in dir(bpy.app.handlers)
            if isinstance(handlers := getattr(bpy.app.handlers, name), list)
        },
    }


@pytest.mark.usefixtures("empty_file")
def test_enabling_and_disabling_three_times_leaves_nothing():
    bpy.types.TOPBAR_MT_file_import.append(_other_entry)  # so that Blender's own draw is wrapped before and after
    before = footprint()
    for _ in range(3):
        grainstack.register()
        assert hasattr(bpy.types.Scene, "grainstack")
        assert footprint()["menu"] == before["menu"] + 1
        assert len(bpy.app.handlers.depsgraph_update_post) > before["handlers"]["depsgraph_update_post"]
        grainstack.unregister()
        assert footprint() == before
    bpy.types.TOPBAR_MT_file_import.remove(_other_entry)


def _other_entry(self, context):
    self.layout.label(text="Other")


@pytest.mark.usefixtures("empty_file")
def test_a_command_registers_properties_only_while_it_works():
    with properties.registered():
        assert hasattr(bpy.types.Scene, "grainstack")
    assert not hasattr(bpy.types.Scene, "grainstack")


def test_a_command_leaves_an_enabled_add_on_enabled(addon):
    with properties.registered():
        pass
    assert hasattr(bpy.types.Scene, "grainstack")


def visible_properties(rna):
    return [p for p in rna.properties if not p.is_hidden and p.identifier not in ("rna_type", "name")]


def texts_of(rna) -> list[tuple[str, str]]:
    texts = []
    for prop in visible_properties(rna):
        texts.append((prop.name, prop.description))
        if prop.type == "ENUM":
            texts += [(item.name, item.description) for item in prop.enum_items]
    return texts


def test_texts_obey_blenders_own_rules(addon):
    """Labels are in Title Case; tooltips are there, add to the label and have no full stop."""
    texts = []
    for cls in OPERATORS:
        rna = getattr(bpy.ops.grainstack, cls.bl_idname.split(".")[1]).get_rna_type()
        texts.append((rna.name, rna.description))
        own = [p for p in texts_of(rna) if p[0] not in INHERITED]
        texts += own
    for group in (properties.SceneSettings, properties.ObjectMark, *properties.strip_fields.CLASSES):
        texts += texts_of(group.bl_rna)
    assert len(texts) > 100
    for label, tooltip in texts:
        assert label == titled(label), label
        assert len(tooltip) > len(label), label
        assert not tooltip.endswith("."), tooltip
        assert tooltip[0].isupper(), tooltip


INHERITED = {"Check Existing"}  # of Blender's own helper for file windows
SMALL = {"to", "in", "as", "of", "by", "from", "on", "and", "the", "a"}


def titled(label: str) -> str:
    """Title Case, as the Human Interface Guidelines have it."""
    words = label.split()
    return " ".join(w if i and w in SMALL else w[0].upper() + w[1:] for i, w in enumerate(words))


def test_the_sidebar_is_one_tab_with_what_is_looked_at_most_on_top_then_in_the_order_of_work(addon):
    assert {cls.bl_category for cls in PANELS} == {"Grainstack"}
    top = [cls for cls in PANELS if not hasattr(cls, "bl_parent_id")]
    assert [cls.bl_label for cls in sorted(top, key=lambda cls: cls.bl_order)] == [
        "Design",
        "View",
        "Findings",
        "Panel",
        "Strips",
        "Pieces",
        "Woods",
        "Workshop",
        "Frame",
        "Picture",
        "Lines to Cut",
        "At the Bench",
    ]
