"""PLY files as other programs read them, and folders that are written as a whole or not at all."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core.errors import UnusableInput
from core.file_names import file_stem
from core.solids import ply
from core.solids.panel_solids import Solid, build_solids
from core.solids.ply import ply_bytes, write_solids
from core.stack.stack import Stack, build_stack
from tests.core.designs import disc, make_design, make_piece, rectangle, ring


def pond(*names: str) -> tuple[Stack, list[Solid]]:
    outlines = [disc(12, 40, 40, 64), rectangle(20, 30, 50, 20), ring(14, 6, 64)]
    pieces = [make_piece(name, outline) for name, outline in zip(names, outlines, strict=False)]
    stack = build_stack(make_design(pieces))
    return stack, build_solids(stack)


def write(folder: Path, *names: str) -> Path:
    stack, solids = pond(*names)
    return write_solids(stack, solids, "raw", folder)


def test_trimesh_reads_the_same_vertices_and_triangles_to_the_last_bit(tmp_path: Path) -> None:
    _, solids = pond("koi", "pad")
    for solid in solids:
        file = tmp_path / f"{solid.name}.ply"
        file.write_bytes(ply_bytes(solid.vertices, solid.triangles))
        read = trimesh.load_mesh(file, process=False)
        assert np.array_equal(read.vertices, solid.vertices)
        assert np.array_equal(read.faces, solid.triangles)
        assert read.is_watertight
        assert read.volume == pytest.approx(solid.volume, rel=1e-9)


def test_the_header_says_binary_little_endian_doubles() -> None:
    """Header and layout as the PLY format defines them (Turk, The PLY Polygon File Format, 1994; from memory)."""
    data = ply_bytes(np.array([[0.1, 0, 0], [1, 0, 0], [0, 1, 0]]), np.array([[0, 1, 2]], np.int32))
    head, _, body = data.partition(b"end_header\n")
    lines = head.decode("ascii").split("\n")
    assert lines[:2] == ["ply", "format binary_little_endian 1.0"]
    assert "property double x" in lines
    assert "property list uchar int vertex_indices" in lines
    assert len(body) == 3 * 3 * 8 + 1 + 3 * 4
    assert np.frombuffer(body[:8], "<f8")[0] == 0.1


def test_contents_tell_what_each_file_is(tmp_path: Path) -> None:
    path = write(tmp_path / "new" / "solids", "koi", "pad")
    contents = json.loads(path.read_text())
    assert path == tmp_path / "new" / "solids" / "solids.json"
    assert (contents["format"], contents["state"], contents["units"]) == ("grainstack-solids/1", "raw", "mm")
    assert [(s["name"], s["file"], s["kind"], s["wood"], s["batch"]) for s in contents["solids"]] == [
        ("background-1-1", "background-1-1.ply", "background", "sapele", None),
        ("koi", "koi.ply", "insert", "holly", 1),
        ("pad", "pad.ply", "insert", "holly", 2),
    ]
    for solid in contents["solids"]:
        mesh = trimesh.load_mesh(path.parent / solid["file"], process=False)
        assert (len(mesh.faces), len(mesh.vertices)) == (solid["triangles"], solid["vertices"])
        assert mesh.volume == pytest.approx(solid["volume"], rel=1e-9)


def test_writing_again_takes_away_old_solids_and_nothing_else(tmp_path: Path) -> None:
    write(tmp_path, "koi", "pad")
    (tmp_path / "mine.ply").write_text("mine")
    (tmp_path / "notes.txt").write_text("notes")
    write(tmp_path, "koi")
    names = sorted(path.name for path in tmp_path.iterdir())
    assert names == ["background-1-1.ply", "koi.ply", "mine.ply", "notes.txt", "solids.json"]


def test_a_table_of_contents_that_is_not_ours_takes_nothing_away(tmp_path: Path) -> None:
    victim = tmp_path / "victim.ply"
    victim.write_text("mine")
    out = tmp_path / "out"
    out.mkdir()
    listed = {"format": "grainstack-solids/1", "solids": [{"file": "../victim.ply"}, {"file": 3}]}
    (out / "solids.json").write_text(json.dumps(listed))
    write(out, "koi")
    assert victim.read_text() == "mine"


def test_a_failure_half_way_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(tmp_path, "koi", "pad")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    calls = []

    def full_disk(vertices: object, triangles: object) -> bytes:
        calls.append(1)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")
        return b""

    monkeypatch.setattr(ply, "ply_bytes", full_disk)
    with pytest.raises(UnusableInput, match="No space left on device"):
        write(tmp_path, "koi")
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
    calls.clear()
    with pytest.raises(UnusableInput):
        write(tmp_path / "new", "koi")
    assert not (tmp_path / "new").exists()


def test_a_file_in_place_of_the_folder_is_told_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(UnusableInput, match=r"out: solids cannot be written here \(.*\)\. Name another folder"):
        write(tmp_path / "out", "koi")
    assert (tmp_path / "out").read_text() == "mine"


def test_a_folder_in_place_of_a_file_stops_all(tmp_path: Path) -> None:
    (tmp_path / "koi.ply").mkdir()
    with pytest.raises(UnusableInput, match="folder where a file would go"):
        write(tmp_path, "koi")
    assert [path.name for path in tmp_path.iterdir()] == ["koi.ply"]


def test_a_piece_named_like_a_background_piece_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UnusableInput, match=r'pieces\[0\] "Background-1-1"\.id.*another id'):
        write(tmp_path, "Background-1-1")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["CON", "nul", "Com1", "LPT9", "aux", "prn"])
def test_ids_that_are_devices_of_windows_become_files_of_another_name(tmp_path: Path, name: str) -> None:
    contents = json.loads(write(tmp_path, name, "COM0x", "console").read_text(encoding="utf-8"))
    files = {solid["name"]: solid["file"] for solid in contents["solids"]}
    assert files[name] == f"{name}_.ply"
    assert files["COM0x"] == "COM0x.ply"
    assert files["console"] == "console.ply"
    assert all((tmp_path / file).is_file() for file in files.values())
    write(tmp_path, "koi")
    assert not (tmp_path / f"{name}_.ply").exists()


def test_no_two_ids_share_a_file() -> None:
    ids = [f"{name}{'_' * tail}" for name in ("con", "com1", "koi", "con-1") for tail in range(4)]
    assert len({file_stem(identity).lower() for identity in ids}) == len(ids)
    assert file_stem("koi_") == "koi_"
