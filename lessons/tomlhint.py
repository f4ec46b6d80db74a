"""What to do about a lesson file that is no TOML: the line as it stands, and the slip that it most likely is.

The reader of TOML tells where it gave up, which is often far behind the slip. A guess here is no more than a guess:
what the reader said stays in the sentence.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

#: Letters of a line that a sentence quotes.
LINE_MAX = 60
_PLACE = re.compile(r"\(at (?:line (\d+), column (\d+)|end of document)\)")
#: Quotation marks that a word processor writes.
_CURLY = re.compile("[‘’‚‛“”„‟«»]")
_SWITCH = re.compile(r"(?:true|false|yes|no|on|off)\b", re.IGNORECASE)
_HEADER = re.compile(r"\s*\[\[?[\w.-]+\]\]?\s*(?:#.*)?$")
_SINGLE = re.compile(r"^[ \t]*\[[ \t]*steps[ \t]*\]", re.MULTILINE)
_DOUBLE = re.compile(r"[ \t]*\[\[steps\]\]")
_KEY = re.compile(r"\s*[A-Za-z_][\w.-]*[ \t]*=")
_BEGUN = re.compile(r"\s*[A-Za-z_][\w.-]*[ \t]*=[ \t]*(?:\"{3}|'{3})")
_SPACED = re.compile(r"\s*([A-Za-z_]\w*(?:[ \t]+\w+)+)[ \t]*=")
_TOKEN = re.compile(
    r'"""(?:\\.|(?!""").)*(?:"{3,5})?'
    r"|'''(?:(?!''').)*(?:'{3,5})?"
    r'|"(?:\\[^\n]|[^"\\\n])*"?'
    r"|'[^'\n]*'?"
    r"|#[^\n]*"
    r"|[\[\]{}]",
    re.DOTALL,
)


@dataclass(frozen=True)
class _Broken:
    """A text that is no TOML.

    said : what its reader said
    at   : where the reader gave up, a place in the text; its length at the end
    """

    text: str
    said: str
    at: int

    @property
    def number(self) -> int:
        """The number of the line where the reader gave up."""
        return self.line_of(self.at)

    @property
    def line(self) -> str:
        """That line."""
        return self.text.split("\n")[self.number - 1]

    @property
    def rest(self) -> str:
        """That line from the place on where the reader gave up."""
        return self.text[self.at :].partition("\n")[0]

    def line_of(self, place: int) -> int:
        """The number of the line of a place."""
        return self.text.count("\n", 0, place) + 1


#: The line to show and what to do about it.
Hint = tuple[int, str]


def hinted(said: str, text: str) -> str:
    """What the reader of TOML said of a text, one sentence, with the line as it stands and what to do about it."""
    text = text.replace("\r\n", "\n")  # as the reader counts
    place = _PLACE.search(said)
    if place is None:
        return said
    broken = _Broken(text, said, _offset(text, place))
    number, remedy = next((hint for find in _FINDERS if (hint := find(broken))), (broken.number, ""))
    line = text.split("\n")[number - 1].strip()
    if not line and not remedy:
        return said
    cut = line if len(line) <= LINE_MAX else f"{line[:LINE_MAX]}..."
    return f"{said.removesuffix('.')}; line {number} reads {_quoted(cut)}{f': {remedy}' if remedy else ''}."


def _offset(text: str, place: re.Match[str]) -> int:
    if place[1] is None:
        return len(text)
    lines = text.split("\n")
    return min(sum(len(line) + 1 for line in lines[: int(place[1]) - 1]) + int(place[2]) - 1, len(text))


# --- slips, the surest first


def _invisible(broken: _Broken) -> Hint | None:
    if broken.text.startswith("\ufeff") and broken.at == 0:
        return 1, "the file begins with an invisible mark; save it as UTF-8 without one (BOM)"
    return None


def _curly(broken: _Broken) -> Hint | None:
    """A curly mark where a straight one is wanted, or at the end of what a straight one began."""
    if _CURLY.match(broken.rest) or (_ends_open(broken) and _CURLY.search(broken.line)):
        return broken.number, 'it has curly quotation marks; write straight ones, "'
    return None


def _ends_open(broken: _Broken) -> bool:
    return r"Illegal character '\n'" in broken.said or "Unterminated string" in broken.said


def _long_text(broken: _Broken) -> Hint | None:
    """Marks of a text of several lines that were closed by those which begin the next one."""
    for start, end in _strings(broken.text):
        last = broken.text[start + 3 : end].rpartition("\n")[2]
        if broken.number - broken.line_of(end) in (0, 1) and _BEGUN.fullmatch(last):
            return _to_end(broken, start)
    return None


def _quote(broken: _Broken) -> Hint | None:
    if not _ends_open(broken):
        return None
    for start, end in _strings(broken.text):
        if start < broken.at <= end:
            return _to_end(broken, start)
    return broken.number, 'close the quotation mark, or put a text of several lines between """ and """'


def _to_end(broken: _Broken, start: int) -> Hint:
    return broken.line_of(start), f"close its {broken.text[start : start + 3]} at the end of that text"


def _one_bracket(broken: _Broken) -> Hint | None:
    remedy = "a step begins with two brackets at either side, [[steps]]"
    single = _SINGLE.search(broken.text)
    if single and ("('steps'" in broken.said or _DOUBLE.match(broken.line)):
        return broken.line_of(single.end()), remedy
    if "at the end of an array declaration" in broken.said:
        return broken.number, remedy
    return None


def _bracket(broken: _Broken) -> Hint | None:
    """A bracket that is open where a key or the next step begins, or at the end of the file."""
    opened = _open_brackets(broken.text, broken.at)
    if not opened:
        return None
    ends = not broken.rest.strip()
    before = [place for place in opened if broken.line_of(place) < broken.number]
    if before and (ends or _HEADER.match(broken.line) or _KEY.match(broken.line)):
        return _to_close(broken, before[-1])
    if ends or _KEY.match(broken.rest) or broken.rest[0] in "]}":
        return _to_close(broken, opened[-1])
    if "Unclosed" in broken.said:
        return broken.number, f"put a comma before {_quoted(broken.rest.strip()[:20])}"
    return None


def _to_close(broken: _Broken, place: int) -> Hint:
    if broken.text[place] == "{":
        return broken.line_of(place), "close it with } on the same line; what stands in { } has no ends of lines"
    return broken.line_of(place), "close its [ with ]"


def _switch(broken: _Broken) -> Hint | None:
    if "Invalid value" in broken.said and _SWITCH.match(broken.rest):
        return broken.number, "write true or false, in small letters"
    return None


def _bare(broken: _Broken) -> Hint | None:
    if "Invalid value" in broken.said and re.match(r"[^\W\d]", broken.rest):
        return broken.number, 'a word stands in straight quotation marks, "like this"'
    if "Invalid value" in broken.said and not broken.rest.strip():
        return broken.number, "write a value behind =, or take the line out"
    return None


def _key(broken: _Broken) -> Hint | None:
    spaced = _SPACED.match(broken.line)
    if spaced and "Expected '=' after a key" in broken.said:
        return broken.number, f"a key has no space; write {'_'.join(spaced[1].split())}"
    if "Expected '=' after a key" in broken.said:
        return broken.number, "write = between key and value; a line of a text stands between quotation marks"
    if "Expected newline" in broken.said and re.match(r",\d", broken.rest):
        return broken.number, "write a point in a number, not a comma"
    if "Expected newline" in broken.said:
        return (
            broken.number,
            f"begin a new line before {_quoted(broken.rest.strip()[:20])}, or put quotation marks round the whole",
        )
    return None


def _twice(broken: _Broken) -> Hint | None:
    if any(words in broken.said for words in ("Cannot overwrite", "Duplicate", "Cannot declare", "Cannot mutate")):
        return broken.number, "that is given above already; keep one, or begin the next step with [[steps]]"
    return None


def _backslash(broken: _Broken) -> Hint | None:
    if "Unescaped" in broken.said or "hex value" in broken.said:
        return broken.number, r"write \\ for a backslash"
    return None


_FINDERS: tuple[Callable[[_Broken], Hint | None], ...] = (
    _invisible, _curly, _long_text, _quote, _one_bracket, _switch, _bracket, _bare, _key, _twice, _backslash,
)  # fmt: skip


# --- the text as far as it can be read


def _strings(text: str) -> Iterator[tuple[int, int]]:
    """Texts of several lines: where each begins, and where it ends."""
    for token in _TOKEN.finditer(text):
        if token[0].startswith(('"""', "'''")):
            yield token.start(), token.end()


def _open_brackets(text: str, end: int) -> list[int]:
    """Places of the brackets that are open at some place of the text; those round the name of a table are none."""
    opened: list[int] = []
    header_until = 0
    for token in _TOKEN.finditer(text):
        at = token.start()
        if at >= end:
            break
        if token[0] not in "[]{}" or at < header_until:
            continue
        if token[0] in "]}":
            del opened[-1:]
        elif not opened and not text[text.rfind("\n", 0, at) + 1 : at].strip():
            header_until = text.find("\n", at) % (len(text) + 1)
        else:
            opened.append(at)
    return opened


def _quoted(text: str) -> str:
    """As it stands, but for signs that cannot be seen."""
    return f"'{''.join(c if c.isprintable() else ascii(c)[1:-1] for c in text)}'"
