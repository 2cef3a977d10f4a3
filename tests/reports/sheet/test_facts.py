"""What the job sheet says of an item's assembly."""

from cutjob.reports.sheet import facts
from tests.designs.order import item


def test_beads_come_between_the_rods() -> None:
    steps = list(facts.assembly(item("graded-rods", size="small", beads=2, top_bead=True), "in"))
    assert steps[0].startswith("base: flat")
    assert steps[1].startswith("centre rod: ")
    assert [step for step in steps if "bead" in step] == ["2 beads"] * 8 + ["a bead"]
    assert [step.split(":")[0] for step in steps[2:5]] == ["rod 1", "2 beads", "rod 2"]
