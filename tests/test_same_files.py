"""The comparison of files before and after a change tells every kind of difference."""

from tests.same_files import differences


def test_all_kinds_of_differences_are_told() -> None:
    before = {"a": {"x": "1", "y": "2", "z": "3"}, "b": {"refused": "no board"}, "c": {}}
    after = {"a": {"x": "1", "y": "9", "w": "4"}, "b": {"refused": "no wood"}, "d": {}}
    assert list(differences(before, before)) == []
    assert list(differences(before, after)) == [
        "a: y differs",
        "a: z is gone",
        "a: w is new",
        "b: refused differs",
        "c: not made any more",
        "d: not made before",
    ]
