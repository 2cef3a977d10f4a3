from cutjob.designs.catalogue import CATALOGUE
from cutjob.designs.design import BuildContext, Design
from cutjob.designs.parameter import Parameter, Values
from cutjob.geometry.contour import Region, rectangle
from cutjob.parts.part import Build, ShapedPart

from .order import INCH, item, only_problem, problems


def test_the_item_carries_name_size_count_and_line():
    made = item("round", size="large")
    assert (made.name, made.design, made.size, made.count) == ("reed spinner", "round", "large", 1)
    assert str(made.location) == "spring.toml:9"


def test_what_the_user_gives_stands_above_the_size():
    medium, wider = item("round").build.shaped[0], item("round", diameter=5).build.shaped[0]
    assert wider.region.bounds[2] == 2.5 * INCH
    assert wider.holes == medium.holes


def test_a_bare_number_is_in_the_unit_of_the_job():
    inches = item("round", diameter="5", hole="1/4").build
    mm = item("round", diameter="127", hole="6.35", unit="mm").build
    assert inches == mm


def test_an_unknown_parameter_names_the_nearest_and_its_line():
    problem = only_problem("graded-stack", gap="1", teirs=9)
    assert str(problem).startswith(
        'spring.toml:21: make "reed spinner": teirs: design "graded-stack" has no parameter "teirs"; '
        'did you mean "tiers"?'
    )
    assert "centre_mark" in only_problem("graded-stack", qqqqqq="1").advice
    assert 'did you mean "least_height"?' in only_problem("graded-stack", **{"least-height": "1"}).advice


def test_every_mistake_of_a_line_comes_at_once():
    found = problems("graded-stack", size="huge", tiers=0, longest="nine", step="1", shortest="2", colour="red")
    assert [problem.place.removeprefix('make "reed spinner": ') for problem in found] == [
        "size",
        "tiers",
        "longest",
        "colour",
        "shortest",
    ]
    assert "take one of small, medium, large" in found[0].advice
    assert found[-1].message == "step and shortest are both given"
    assert str(found[-1].location) == "spring.toml:23"


def test_a_mistake_between_parameters_is_placed_at_the_one_named():
    problem = only_problem("round", hole="4 11/16")
    assert problem.place == 'make "reed spinner": hole'
    assert str(problem.location) == "spring.toml:20"
    # Where the value comes from the size, the line of the order is the nearest.
    assert str(only_problem("graded-stack", thickness=9.0).location) == "spring.toml:9"


def test_an_unknown_design_is_placed_at_the_order():
    problem = only_problem("zither")
    assert str(problem).startswith('spring.toml:9: make "reed spinner": design: there is no design "zither"; take one')


def test_a_new_design_takes_one_value():
    def build(values: Values, context: BuildContext) -> Build:
        side = values.number("side")
        return Build(shaped=(ShapedPart(name="tile", region=Region(rectangle(side, side))),))

    tile = Design(
        name="tile",
        summary="a square",
        parameters=(
            Parameter(name="side", kind="length", help="side", least=1.0),
            Parameter(name="text", kind="text", help="letters", required=True),
        ),
        sizes={"medium": {"side": "2 in"}},
        build=build,
    )
    designs = {**CATALOGUE, "tile": tile}
    assert item("tile", designs=designs, text="oak").build.shaped[0].region.area == (2 * INCH) ** 2
    problem = only_problem("tile", designs=designs)
    assert (problem.place, problem.message) == ('make "reed spinner": text', "is not given")
