"""What a worked calculation says in constants: names and sources of figures and formulas, causes of doubt."""

import ast
import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from pathlib import Path

import lapel.hygiene
from lapel.figures import Formula
from lapel.hygiene import air, extended_shifts, limits, shift, short_term, window_bounds

SOURCES = Path(lapel.hygiene.__path__[0]).parent
FIGURES_MADE_IN = sorted(
    file
    for folder in ("hygiene", "assessment")
    for file in (SOURCES / folder).rglob("*.py")
    if re.search(r"\b(?:reading|Figure|ufloat)\(", file.read_text(encoding="utf-8")) and file.name != "verdicts.py"
)
"""All but that of a limit, which no working reaches: documents say it from the survey."""
KERNEL = [
    importlib.import_module(module.name) for module in pkgutil.walk_packages(lapel.hygiene.__path__, "lapel.hygiene.")
]
CALLED = ("name", "source", "cause", "tag")
"""Arguments that say what a figure is, where it comes from, and what makes it uncertain."""

A_WORD = re.compile(r"(?<![\w.])[a-z]{4,}(?!\w)")
"""A word in an expression; letters with a word as their index, as m_front, are no words."""


def formulas() -> list[Formula]:
    """Every formula of the kernel, those made anew for each unit included."""
    written = [each for module in KERNEL for each in vars(module).values() if isinstance(each, Formula)]
    of_a_unit = (
        limits._action_level,
        shift._mean_over_sampled_time,
        shift.weighted_average,
        short_term._least_of_windows,
        short_term._spread_over,
        window_bounds._average,
    )
    written += [make("ppm") for make in of_a_unit]
    written += [air._mean_over_run(unit) for unit in air.OVER_THE_RUN]
    return written + [extended_shifts._shortened(model, "ppm") for model in extended_shifts.MODEL_WORDS]


def of_workings() -> Iterator[str]:
    """Names, sources, and words in expressions of every formula; names, sources and causes of figures."""
    for formula in formulas():
        card = formula.card
        yield from (card.name, card.source)
        if A_WORD.search(card.expression):
            yield card.expression
        letters = (card.symbols.get(name, name) for name in inspect.signature(formula.raw).parameters)
        yield from (letter for letter in letters if A_WORD.fullmatch(letter) and letter not in NO_TERMS)
    for file in FIGURES_MADE_IN:
        for node in said_of_figures(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value:
                yield node.value
    yield "unnamed cause"
    yield from _returned_by(SOURCES / "assessment" / "origins.py")


def _returned_by(file: Path) -> Iterator[str]:
    """Templates of the sources that a module makes."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        match node:
            case ast.Return(value=ast.Tuple(elts=[ast.Constant(value=str(template)), *_])):
                yield template


NO_TERMS = ("air", "ambient", "basis")
"""Arguments that no term is called by: the parts of air have letters of their own, a basis is no number."""


def said_of_figures(tree: ast.Module) -> Iterator[ast.expr]:
    """What is written for a name, a source or a cause, followed through names and choices in the same module."""
    given: dict[str, list[ast.expr]] = {}
    for node in ast.walk(tree):
        match node:
            case ast.Assign(targets=[ast.Name(id=name)], value=value):
                given.setdefault(name, []).append(value)
            case ast.AnnAssign(target=ast.Name(id=name), value=ast.expr() as value):
                given.setdefault(name, []).append(value)
            case ast.Assign(targets=[ast.Tuple(elts=names)], value=ast.Tuple(elts=values)):
                for target, value in zip(names, values, strict=True):
                    if isinstance(target, ast.Name):
                        given.setdefault(target.id, []).append(value)
    for node in ast.walk(tree):
        match node:
            case ast.Call(func=ast.Name(id="said")):
                continue
            case ast.Call(func=ast.Attribute(attr="named"), args=[first, *_], keywords=keywords):
                yield from _ends(first, given)
                yield from (end for keyword in keywords for end in _ends(keyword.value, given))
            case ast.Call(keywords=keywords):
                for keyword in keywords:
                    if keyword.arg in CALLED:
                        yield from _ends(keyword.value, given)
            case ast.FunctionDef(args=arguments):
                for argument, default in zip(arguments.kwonlyargs, arguments.kw_defaults, strict=True):
                    if argument.arg in CALLED and default is not None:
                        yield default


def _ends(node: ast.expr, given: dict[str, list[ast.expr]], seen: frozenset[str] = frozenset()) -> Iterator[ast.expr]:
    match node:
        case ast.IfExp(body=body, orelse=orelse):
            yield from (*_ends(body, given, seen), *_ends(orelse, given, seen))
        case ast.Dict(values=values):
            for value in values:
                yield from _ends(value, given, seen)
        case ast.Subscript(value=value):
            yield from _ends(value, given, seen)
        case ast.Tuple(elts=[template, *_]):  # filled in when somebody reads it
            yield template
        case ast.Name(id=name) if name not in seen:
            for value in given.get(name, ()):
                yield from _ends(value, given, seen | {name})
        case _:
            yield node
