"""The field page in Spanish: nothing is missing from it, and nothing of it reaches the log."""

import ast
import re
from pathlib import Path

import lapel.field
from lapel.documents.wording import packaged_sentences
from lapel.field import api, pairing, planned_trains
from lapel.field.day_pack import rules_of
from lapel.fieldlog.entries import KINDS, UNITS
from lapel.records import entry_frame
from lapel.reference.rule_books import PACKAGED, rule_book

PAGE = Path(lapel.field.__file__).parent / "static" / "field"
WORDS = PAGE / "screens" / "words"
TEXT = r"""'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*\""""
TEXTS = rf"(?:{TEXT})(?:\s*\+\s*(?:{TEXT}))*"
VALUE = rf"(?P<text>{TEXT})|\{{\s*one:\s*(?P<one>{TEXT}),\s*other:\s*(?P<other>{TEXT}),?\s*\}}"
ENTRY = re.compile(rf"^  (?P<key>{TEXT}|\w+):\s*(?:{VALUE}),$", re.MULTILINE)
NAMES = re.compile(r"\{\w+\}")


def text_of(literal):
    """The text of one or more JavaScript literals put together."""
    return "".join(found[0][1:-1].replace("\\'", "'").replace('\\"', '"') for found in re.finditer(TEXT, literal))


def catalogue(name):
    """A file of words: a key's phrase, or its two forms."""
    source = (WORDS / f"{name}.js").read_text(encoding="utf-8")
    body = source[source.index("export const") :]
    found = {}
    for entry in ENTRY.finditer(body):
        key = text_of(entry["key"]) if entry["key"][0] in "'\"" else entry["key"]
        found[key] = (text_of(entry["text"]),) if entry["text"] else (text_of(entry["one"]), text_of(entry["other"]))
    assert len(found) == len(re.findall(r"^  (?!//|})\S", body, re.MULTILINE)), name
    return found


def modules():
    """Every module of the page that is written by hand."""
    return {
        path.relative_to(PAGE).as_posix(): path.read_text(encoding="utf-8")
        for path in PAGE.rglob("*.js")
        if path.name != "kinds.js" and not {"vendor", "words"} & set(path.relative_to(PAGE).parts)
    }


EN, ES = catalogue("en"), catalogue("es")
SENTENCES = {
    english: text for name in ("es_sentences", "es_rules", "es_codes") for english, (text,) in catalogue(name).items()
}
CALLS = re.compile(rf"\bsaid\(\s*({TEXTS})\s*[,)]")
TEMPLATES = {text_of(call[1]) for source in modules().values() for call in CALLS.finditer(source)}


# Phrases of the screens


def test_every_phrase_of_the_screens_has_a_spanish_one_and_no_other():
    assert len(EN) > 600
    assert sorted(EN) == sorted(ES)


def test_a_spanish_phrase_fills_in_the_same_names_and_has_the_same_forms():
    unlike = [key for key in EN if len(EN[key]) != len(ES[key]) or not all(map(alike, EN[key], ES[key]))]
    assert unlike == []


def alike(english, spanish):
    """Whether the same names are filled in, and both are a sentence or neither is."""
    same = sorted(NAMES.findall(english)) == sorted(NAMES.findall(spanish))
    return same and english.endswith(".") == spanish.endswith(".")


# Sentences of the day


def test_every_sentence_is_made_of_a_template_that_stands_there():
    """A template put together while the page runs could not be found in a catalogue."""
    for name, source in modules().items():
        calls = re.findall(r"(?<!function )\bsaid\((?!\/)", re.sub(r"^\s*(?:\*|//).*$", "", source, flags=re.MULTILINE))
        own = len(re.findall(r"\bsaid\((?:key|name), ", source))  # a helper of a screen by this name
        assert len(calls) - own == len(CALLS.findall(source)), name


def test_every_sentence_the_page_makes_has_a_spanish_one():
    assert len(TEMPLATES) > 150
    in_words = {text for text in TEMPLATES if re.search(r"[a-z]{2}", NAMES.sub("", text))}
    assert sorted(in_words - set(SENTENCES)) == []


def test_a_spanish_sentence_fills_in_the_same_names_and_ends_alike():
    assert [english for english, spanish in SENTENCES.items() if not alike(english, spanish)] == []


def test_a_sentence_of_the_report_is_said_alike_on_the_page():
    report = packaged_sentences("es")
    both = {english: (text, report[english]) for english, text in SENTENCES.items() if english in report}
    assert len(both) > 40
    assert not {english: pair for english, pair in both.items() if pair[0] != pair[1]}


# What the office sends, and what the log says in codes


def test_everything_a_rule_book_of_ours_says_to_a_device_has_a_spanish_text():
    tiers = [tier for key in PACKAGED for rule in rules_of(rule_book(key)).rules.values() for tier in rule.tiers]
    said = {text for tier in tiers for text in (tier.words, tier.remedy)} - {""}
    places = {text for tier in tiers for text in (tier.document, tier.section)}
    assert len(said) > 60
    assert not sorted(said - set(SENTENCES))
    report = packaged_sentences("es")
    assert not sorted(text for text in places if report.get(text, text) != SENTENCES.get(text, text))


def test_every_code_of_the_log_has_spanish_words():
    fields = [field for kind in KINDS.values() for field in kind.fields.values()]
    codes = set(KINDS) | set(UNITS) | {field.name for field in fields} | {c for field in fields for c in field.choices}
    wanted = codes | {field.words for field in fields} | {"yes", "no"}
    assert not sorted(wanted - set(SENTENCES))


def test_what_the_pages_themselves_answer_in_the_log_has_spanish_words():
    """Answers to choose from that go into the log in English, and come back on the screen of what was recorded."""
    answers = set()
    for name in ("during", "recorded", "desk", "trouble", "prepare"):
        source = modules()[f"screens/{name}.js"]
        answers |= set(re.findall(r"reason(?: =|:) '([^']+)'", source))
        for block in re.findall(r"(?:SIGHTS|reasons) = \{(.*?)\};", source, re.DOTALL):
            answers |= set(re.findall(r": '([^']+)'", block))
        answers |= set(re.findall(r"acts\.\w+\([^()]*, '([a-z][a-z ]+)'", source))
    battery = re.findall(
        r"value: '([a-z ]+)', text: say\('pump\.(?:full|most|half)'", modules()["screens/prepare_pump.js"]
    )
    assert len(battery) == 3
    answers |= set(battery)
    assert {"misread", "extraction is off", "drill or alarm", "tube broken", "tapped by mistake"} <= answers
    assert not sorted(answers - set(SENTENCES))


def test_what_the_office_tells_a_device_in_fixed_words_has_spanish_ones():
    too_many = TOO_MANY.format(minutes=pairing.WAIT_S // 60)
    too_much = TOO_MUCH.format(kb=api.LARGEST_BODY // 1024)
    assert {planned_trains.NOT_READ, pairing._NO_SUCH_CODE, too_many, too_much} <= set(SENTENCES)


def refusals():
    """What the office finds and wants in fixed words, where it does not take an entry of a device."""
    for node in ast.walk(ast.parse(Path(entry_frame.__file__).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "EntryProblem":
            yield from (one.value for one in node.args[1:] if isinstance(one, ast.Constant))


def test_why_the_office_does_not_take_an_entry_has_spanish_words():
    assert len(set(refusals())) > 8
    assert not sorted(set(refusals()) - set(SENTENCES))


def test_a_sentence_nobody_says_is_not_kept():
    everything = "\n".join(modules().values())
    tiers = [tier for key in PACKAGED for rule in rules_of(rule_book(key)).rules.values() for tier in rule.tiers]
    known = TEMPLATES | set(KINDS) | set(UNITS) | {text for tier in tiers for text in texts_in(tier)}
    for kind in KINDS.values():
        for field in kind.fields.values():
            known |= {field.name, field.words, *field.choices}
    known |= {planned_trains.NOT_READ, pairing._NO_SUCH_CODE, *OF_THE_OFFICE, *refusals()}
    assert not sorted(english for english in SENTENCES if english not in known and f"'{english}'" not in everything)


def texts_in(tier):
    return {value for value in vars(tier).values() if isinstance(value, str)}


TOO_MANY = "Too many wrong codes from here. Wait {minutes} minutes, and ask for a new code at the office."

TOO_MUCH = "More than {kb} kB in one request; send fewer entries at once. Nothing was taken."

OF_THE_OFFICE = {
    TOO_MANY.format(minutes=15),
    TOO_MUCH.format(kb=2048),
    "Unauthorized",
    "There is no such survey. Keep the entries.",
    *("at", "author", "corrects", "device", "hash", "id", "kind", "reason", "sequence"),
    *("piston", "burette", "rotameter", "thermal"),
    *("full shift", "short term", "ceiling", "area"),
}
"""Words that come with the day's data or an answer: faults of an envelope, kinds of meter, purposes of a sample."""


# The log


def test_no_word_of_the_page_goes_into_the_log():
    telling = r"\b(?:say|tell|codeText)\("
    acts = modules()["screens/acts.js"]
    assert "words.js" not in acts
    assert "said.js" not in acts
    for name, source in modules().items():
        assert not re.search(rf"\bacts\.\w+\((?:[^()]|\([^()]*\))*{telling}", source), name
        assert not re.search(rf"\bfields: \{{[^}}]*{telling}", source), name
        assert not re.search(rf"\b(?:reason|why|remark): {telling}", source), name
