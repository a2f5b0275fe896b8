"""What a person reads on a page: its text without tags, scripts and drawings."""

import re
from html import unescape


def text_of(answer):
    """Return an answer's words, one blank between them."""
    body = re.sub(r"<(script|style|svg)\b.*?</\1>", " ", answer.content.decode(), flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", body)))
