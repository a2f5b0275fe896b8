"""The code on the pages about flow, volume, mass and concentration runs and gives the numbers printed beside it."""

import re
from pathlib import Path

import pytest

SCIENCE = Path(__file__).parents[2] / "docs" / "science"


def statements(page: str) -> list[str]:
    """Split the page's code block, which begins with its import, into statements."""
    text = (SCIENCE / f"{page}.md").read_text(encoding="utf-8")
    block = re.search(r"(?:^    .*\n)*^    from lapel.*\n(?:^    .*\n)*", text, flags=re.MULTILINE)
    assert block is not None
    code = "\n".join(line[4:] for line in block.group().splitlines())
    return re.split(r"\n(?=\S)", code)


@pytest.mark.parametrize("page", ["flow", "volume", "mass", "concentration"])
def test_every_number_beside_code_is_what_the_code_gives(page):
    names: dict[str, object] = {}
    checked = 0
    for statement in statements(page):
        code, _, comment = statement.partition("#")
        number = re.match(r"\s*(\d+(?:\.\d+)?)", comment)
        if re.match(r"\w+ = |from ", code):
            exec(code, names)
            code = code.split(" = ")[0] + ".value"
        if number:
            decimals = len(number.group(1).partition(".")[2])
            assert f"{eval(code, names):.{decimals}f}" == number.group(1), statement
            checked += 1
    assert checked >= 1
