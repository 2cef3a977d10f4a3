from itertools import pairwise
from xml.etree import ElementTree

import pytest

from cutjob.designs.catalogue import CATALOGUE
from cutjob.files.file_bytes import shipped_folder
from cutjob.output.picture.gallery import design_picture, main, write_gallery


def test_every_design_has_its_picture_at_all_sizes(tmp_path):
    written = write_gallery(tmp_path)
    assert {path.stem for path in written} == {name for name in CATALOGUE if name != "outline"}
    for path in written:
        root = ElementTree.fromstring(path.read_text(encoding="utf-8"))
        inner = [one for one in root if one.tag.endswith("svg")]
        assert len(inner) == 3
        _, _, width, height = (float(word) for word in root.attrib["viewBox"].split())
        edges = [(float(one.attrib["x"]), float(one.attrib["width"])) for one in inner]
        assert all(x + wide <= width + 0.01 for x, wide in edges)
        assert all(x + wide < after for (x, wide), (after, _) in pairwise(edges))
        # One scale, one floor.
        floors = {round(float(one.attrib["y"]) + float(one.attrib["height"]), 2) for one in inner}
        assert max(floors) - min(floors) <= 0.02
        assert max(floors) < height
        for one in inner:
            box = [float(word) for word in one.attrib["viewBox"].split()]
            assert float(one.attrib["width"]) == pytest.approx(box[2], abs=0.01)
        # Each with its name and its measures, which do not run into one another.
        texts = [one for one in root if one.tag.endswith("text")]
        assert [one.text for one in texts[::2]] == list(CATALOGUE[path.stem].sizes)
        assert all(one.text and one.text.count(" in") == 2 for one in texts[1::2])
        room = [(_middle(one), len(one.text or "") * 0.6 * float(one.attrib["font-size"])) for one in texts[1::2]]
        assert all(x + wide / 2 < after - other / 2 for (x, wide), (after, other) in pairwise(room))


def _middle(text):
    return float(text.attrib["x"])


def test_the_pictures_with_the_samples_are_what_is_drawn_today(tmp_path):
    shown = {path.name: path.read_bytes() for path in (shipped_folder("samples") / "gallery").iterdir()}
    drawn = {path.name: path.read_bytes() for path in write_gallery(tmp_path)}
    assert shown.keys() == drawn.keys()
    assert [name for name in drawn if shown[name] != drawn[name]] == []
    assert sum(map(len, drawn.values())) < 420_000
    text = (shipped_folder("samples") / "README.md").read_text(encoding="utf-8")
    assert all(f"](gallery/{name})" in text for name in drawn)


def test_the_same_picture_each_time(tmp_path):
    main([str(tmp_path)])
    assert (tmp_path / "star.svg").read_text(encoding="utf-8") == design_picture(CATALOGUE["star"])
