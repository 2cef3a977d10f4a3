"""Cautions of a job: of its boards and of the work by hand, each once, the last word last."""

from pathlib import Path

from cutjob.job.read_machine import read_machine
from cutjob.layout.layout import Layout
from cutjob.output.words.cautions import job_cautions


def topics(*, sticks: bool = False, drilled: bool = False) -> list[str]:
    machine = read_machine("bench-router", beside=Path())
    cautions = job_cautions(
        Layout(boards=(), seed=0, gap=1.0, edge_margin=0.0),
        machine=machine,
        programs=(),
        sticks=sticks,
        drilled=drilled,
    )
    return [caution.topic for caution in cautions]


def test_work_by_hand_has_cautions_of_its_own():
    assert topics() == []
    assert topics(sticks=True) == ["eyes, ears, dust", "saw", "stop block", "what comes before this"]
    assert topics(drilled=True) == ["eyes, ears, dust", "drilling", "what comes before this"]
    assert topics(sticks=True, drilled=True) == [
        "eyes, ears, dust",
        "saw",
        "stop block",
        "drilling",
        "what comes before this",
    ]
