"""Turns the text of a formula into a checked tree that the evaluator can work out.

Every number becomes a name of its own and every name gets a prefix. So the evaluator sees only operators, names and
calls.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from cutjob.designs.own.quantity import FormulaError, Quantity, quantity
from cutjob.files.values import Number

LONGEST_FORMULA = 300  # letters
_DEEPEST = 40
NAME = re.compile(r"[a-z][a-z0-9_]{0,39}\Z")
PREFIX, LITERAL = "v_", "q_"
UNIT_WORDS = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": Fraction(254, 10),
    "inch": Fraction(254, 10),
    "inches": Fraction(254, 10),
    "ft": Fraction(3048, 10),
    "foot": Fraction(3048, 10),
    "feet": Fraction(3048, 10),
}
_MARKS = {'"': "in", "″": "in", "”": "in", "'": "ft", "′": "ft", "’": "ft"}
_UNIT = r"""(?:\s*(?P<unit>mm|cm|m|inches|inch|in|ft|foot|feet)(?![A-Za-z0-9_])|(?P<mark>["″”'′’]))"""
_TOKEN = re.compile(
    rf"""\s*(?:
      (?P<mixed>(?P<whole>\d+)\s+(?P<num>\d+)\s*/\s*(?P<den>\d+))
     |(?P<part>(?P<num_only>\d+)\s*/\s*(?P<den_only>\d+))(?={_UNIT.replace("?P<unit>", "").replace("?P<mark>", "")})
     |(?P<decimal>\d+\.\d*|\.\d+|\d+)
     |(?P<name>[A-Za-z_][A-Za-z0-9_]*)
     |(?P<word>"[^"]*"|'[^']*')
     |(?P<op>\*\*|<=|>=|==|!=|[-+*/^<>(),≤≥≠×÷−=])
    )""",
    re.VERBOSE | re.ASCII,
)
_UNIT_AT = re.compile(_UNIT)
_TIGHT = re.compile(r"(?<![\d./])\d+-\d+/\d+(?!\d)")
_OPERATORS = {"^": "**", "≤": "<=", "≥": ">=", "≠": "!=", "×": "*", "÷": "/", "−": "-"}
_LOGIC = {"and", "or", "not"}
_NODES = (
    ast.Expr, ast.Name, ast.Load, ast.BinOp, ast.UnaryOp, ast.BoolOp, ast.Compare, ast.Call, ast.IfExp,
    ast.Add, ast.Sub, ast.Mult, ast.Div, ast.Pow, ast.USub, ast.UAdd, ast.And, ast.Or, ast.Not,
    ast.Lt, ast.LtE, ast.Gt, ast.GtE, ast.Eq, ast.NotEq,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula as read: its text, the tree to work out, its literals, and the names and functions it uses.

    `bare` is set for a single number without a unit, which is in the file's unit.
    """

    text: str
    tree: ast.AST
    literals: tuple[tuple[str, Quantity | str], ...]
    names: frozenset[str]
    calls: frozenset[str]
    size: int
    bare: Fraction | None = None


def read_formula(raw: object) -> Formula:
    """Return the formula of a file's value: text, a number, true or false. Raises FormulaError or BadValue."""
    if isinstance(raw, bool):
        return _tree("yes" if raw else "no")
    if isinstance(raw, (int, float)):
        Number(-1e9, 1e9, tiny=1e-9).read(raw, unit="mm")
        return _tree(format(Decimal(repr(raw)), "f"))
    if not isinstance(raw, str):
        raise FormulaError('this is not a formula; write a number, or a formula in quotes such as "2 * width + 1/2 in"')
    if not raw.strip():
        raise FormulaError('the formula is empty; write one such as "2 * width + 1/2 in"')
    if len(raw) > LONGEST_FORMULA:
        raise FormulaError(
            f"a formula of {len(raw)} letters is too long; write at most {LONGEST_FORMULA}, and give parts of it "
            f"names as values"
        )
    return _tree(raw)


def _tree(text: str) -> Formula:
    literals: dict[str, Quantity | str] = {}
    words = list(_words(text, literals))
    rewritten = " ".join(word for word, _ in words)
    if max((depth for depth in _depths(rewritten)), default=0) > _DEEPEST:
        raise FormulaError(f"brackets are nested more than {_DEEPEST} deep; give parts of the formula names as values")
    try:
        tree = ast.parse(rewritten, mode="eval").body
    except (SyntaxError, RecursionError, MemoryError) as error:
        raise FormulaError(_unclear(error, words)) from None
    tree = _Choose().visit(tree)
    nodes = list(_walk(tree))
    names = {node.id for node in nodes if isinstance(node, ast.Name)}
    calls = {node.func.id for node in nodes if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)}
    functions = [id(node.func) for node in nodes if isinstance(node, ast.Call)]
    plain = {node.id for node in nodes if isinstance(node, ast.Name) and id(node) not in functions}
    return Formula(
        text=text.strip(),
        tree=ast.Expr(value=tree),
        literals=tuple(literals.items()),
        names=frozenset(name.removeprefix(PREFIX) for name in plain if name.startswith(PREFIX)),
        calls=frozenset(name.removeprefix(PREFIX) for name in calls & names),
        size=len(nodes),
        bare=_bare(tree, literals),
    )


def _words(text: str, literals: dict[str, Quantity | str]) -> Iterator[tuple[str, int]]:
    """The words of the formula for the evaluator, and the position of each in the text."""
    tight = _TIGHT.search(text)
    if tight:
        whole, _, part = tight[0].partition("-")
        raise FormulaError(f"{tight[0]} can be read in two ways; write {whole} {part} or {whole} - {part}")
    at, before = 0, ""
    end = len(text.rstrip())
    while at < end:
        found = _TOKEN.match(text, at)
        if found is None:
            rest = text[at:].strip()
            shown = rest[:1] if rest[:1].isprintable() else f"U+{ord(rest[:1]):04X}"
            raise FormulaError(
                f'"{shown}" is not allowed in a formula; use numbers, units, names, + - * / ^ ( ) and comparisons'
            )
        start, at = found.end() - len(found[0].lstrip()), found.end()
        if found["name"] is not None:
            word = found["name"]
            if word in UNIT_WORDS and not before.startswith(LITERAL):
                raise FormulaError(f'"{word}" is a unit and needs a number before it; write it like 2 {word}')
            before = word if word in _LOGIC else PREFIX + word
        elif found["op"] is not None:
            if found["op"] == "=":
                raise FormulaError("a single = can't compare two things; write ==")
            before = _OPERATORS.get(found["op"], found["op"])
        else:
            value, at = _literal(found, text, at, after=before)
            before = f"{LITERAL}{len(literals)}"
            literals[before] = value
        yield before, start


def _literal(found: re.Match[str], text: str, at: int, *, after: str) -> tuple[Quantity | str, int]:
    """The value of a number, length or word, and the position after it; `5 ft 6 in` is one length."""
    if found["word"] is not None:
        return found["word"][1:-1].strip(), at
    if found["part"] is not None and after == "/":
        raise FormulaError(f"{found['part']} after / can be read in two ways; put it in brackets")
    number = _number(found)
    unit = _UNIT_AT.match(text, at)
    if unit is None:
        return quantity(number), at
    word = unit["unit"] or _MARKS[unit["mark"]]
    total, at = number * UNIT_WORDS[word], unit.end()
    if UNIT_WORDS[word] == UNIT_WORDS["ft"]:
        more = _TOKEN.match(text, at)
        inches = (
            _UNIT_AT.match(text, more.end()) if more and (more["decimal"] or more["mixed"] or more["part"]) else None
        )
        if more and inches:
            total += _number(more) * UNIT_WORDS[inches["unit"] or _MARKS[inches["mark"]]]
            at = inches.end()
    return quantity(total, 1), at


def _number(found: re.Match[str]) -> Fraction:
    if found["decimal"] is not None:
        return Fraction(found["decimal"])
    whole = int(found["whole"] or 0)
    below = int(found["den"] or found["den_only"])
    if below == 0:
        raise FormulaError("this divides by zero; write a fraction such as 1/2")
    return whole + Fraction(int(found["num"] or found["num_only"]), below)


def _unclear(error: BaseException, words: list[tuple[str, int]]) -> str:
    advice = "check that every ( has its ), and that there are signs between numbers and names"
    place = getattr(error, "offset", None)
    if not isinstance(place, int):
        return f"the formula can't be understood; {advice}"
    length = 0
    for number, (word, _) in enumerate(words):
        length += len(word) + 1
        if length >= place:
            shown = words[number][0].removeprefix(PREFIX)
            where = "a number" if shown.startswith(LITERAL) else f'"{shown}"'
            return f"the formula can't be understood at {where}, its word {number + 1}; {advice}"
    return f"the formula is not complete; {advice}"


def _depths(text: str) -> Iterator[int]:
    depth = run = 0
    for letter in text.replace("not ", "-"):
        run = run + 1 if letter in "-+" else run if letter == " " else 0
        depth += (letter == "(") - (letter == ")")
        yield depth + run


def _walk(tree: ast.AST) -> Iterator[ast.AST]:
    for node in ast.walk(tree):
        if not isinstance(node, _NODES) or (isinstance(node, ast.Call) and not isinstance(node.func, ast.Name)):
            raise FormulaError(
                "the formula can't be understood; use numbers, names, + - * / ^, comparisons and functions only"
            )
        if isinstance(node, ast.Call) and node.keywords:
            raise FormulaError("the formula can't be understood; give functions their values without names")
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id.startswith(LITERAL):
            raise FormulaError("the sign between a number and a bracket is missing; write it, such as 3 * (a + b)")
        yield node


class _Choose(ast.NodeTransformer):
    """`choose(condition, this, that)`, which only works out the value it returns."""

    def visit_Call(self, node: ast.Call) -> ast.AST:
        self.generic_visit(node)
        if not isinstance(node.func, ast.Name) or node.func.id != f"{PREFIX}choose":
            return node
        if len(node.args) != 3:
            raise FormulaError("choose takes three things; write choose(condition, this, that)")
        return ast.IfExp(test=node.args[0], body=node.args[1], orelse=node.args[2])


def _bare(tree: ast.AST, literals: dict[str, Quantity | str]) -> Fraction | None:
    if isinstance(tree, ast.UnaryOp) and isinstance(tree.op, (ast.USub, ast.UAdd)):
        inner = _bare(tree.operand, literals)
        return inner if inner is None or isinstance(tree.op, ast.UAdd) else -inner
    if (
        isinstance(tree, ast.BinOp)
        and isinstance(tree.op, ast.Div)
        and isinstance(tree.left, ast.Name)
        and isinstance(tree.right, ast.Name)
    ):
        above, below = literals.get(tree.left.id), literals.get(tree.right.id)
        if isinstance(above, Quantity) and isinstance(below, Quantity) and above.power == below.power == 0:
            return above.value / below.value if below.value else None
    if isinstance(tree, ast.Name):
        value = literals.get(tree.id)
        if isinstance(value, Quantity) and value.power == 0:
            return value.value
    return None
