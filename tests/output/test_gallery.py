from itertools import pairwise
from xml.etree import ElementTree

import pytest

from cutjob.designs.catalogue import CATALOGUE
from cutjob.output.gallery import design_picture, main, write_gallery


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
        for one in inner:
            box = [float(word) for word in one.attrib["viewBox"].split()]
            assert float(one.attrib["width"]) == pytest.approx(box[2], abs=0.01)
            assert float(one.attrib["y"]) + float(one.attrib["height"]) == pytest.approx(height, abs=0.01)


def test_the_same_picture_each_time(tmp_path):
    main([str(tmp_path)])
    assert (tmp_path / "star.svg").read_text(encoding="utf-8") == design_picture(CATALOGUE["star"])
